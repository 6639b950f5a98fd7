"""The derived SQLite index: delete it and it comes back the same."""
