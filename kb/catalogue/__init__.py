"""YAML in, checked records out; every error carries file and line."""
