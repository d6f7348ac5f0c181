"""Plan → files."""
