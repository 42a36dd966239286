"""The command line. No formulas here: read, ask one answer, print."""
