"""The rules of practice: marks, and how the tempo moves from set to set."""
