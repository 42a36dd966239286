"""Sentences in the reader's own units and language; numbers come from the answers."""
