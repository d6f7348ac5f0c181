"""Where each post goes."""
