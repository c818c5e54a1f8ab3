"""A request becomes a piece, which is heard live or from a file."""
