"""The trades, pure: numbers and frozen dataclasses in, dataclasses out; SI throughout."""
