"""Pure functions: numbers in, numbers out. No I/O."""
