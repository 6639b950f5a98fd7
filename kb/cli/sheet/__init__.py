"""One sheet and what is done to it."""
