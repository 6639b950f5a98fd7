"""What is breathed, and fire."""
