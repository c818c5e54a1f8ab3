"""Patterns of a kind, the states between them, and the throws that lead from one to another."""
