"""Copies, and whether all is whole."""
