"""How the work is marked on the ground: strings, sights, reference pegs, the marks of posts."""
