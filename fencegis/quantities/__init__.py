"""What to buy, how long, how much."""
