"""Hostile text: one corpus of strings, taken in by every way in and looked for at every way out."""
