"""Typed, immutable records: what things are. No I/O, no chemistry."""
