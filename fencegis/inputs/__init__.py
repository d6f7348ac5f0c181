"""Files → records."""
