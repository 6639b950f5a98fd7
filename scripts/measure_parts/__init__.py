"""The house in figures."""
