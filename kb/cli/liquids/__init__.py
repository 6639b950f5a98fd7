"""Blends, drying, the map."""
