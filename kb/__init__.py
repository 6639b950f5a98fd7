"""Benchleaf: bench reference and bench book for paper conservators."""

__version__ = "0.1.0"
