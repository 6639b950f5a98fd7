"""Recipes and batches."""
