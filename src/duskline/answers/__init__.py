"""One function per question: it composes the core and returns the answer with its working."""
