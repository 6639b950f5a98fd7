"""Leaving and coming back."""
