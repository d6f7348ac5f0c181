"""What we know: plain data, no files, no steps."""
