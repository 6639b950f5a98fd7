"""Baths and washing."""
