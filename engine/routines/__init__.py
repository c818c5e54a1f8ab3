"""Routines: parts in order, the throws between them, and the running order of a whole act."""
