"""Where it runs: chainage, straight runs, ground and grades."""
