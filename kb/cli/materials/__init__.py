"""Looking up."""
