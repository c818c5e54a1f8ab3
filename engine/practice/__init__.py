"""How the tempo moves from set to set."""
