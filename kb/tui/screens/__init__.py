"""Screens: no chemistry and no SQL."""
