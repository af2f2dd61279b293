"""One question, one file."""
