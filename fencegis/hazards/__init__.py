"""What can hurt somebody or stop the machine."""
