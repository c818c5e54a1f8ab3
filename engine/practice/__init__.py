"""The rules of practice: goals, marks, and how the tempo moves from set to set."""
