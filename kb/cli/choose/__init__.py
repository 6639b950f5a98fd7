"""Which liquid next, and what speaks against it."""
