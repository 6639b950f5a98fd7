"""The append-only bench book: append, read, verify, merge."""
