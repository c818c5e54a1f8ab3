"""Patterns of a kind, the states between them, and the throws that lead from one to another.

Easier patterns that lead up to one, in steps, and how hard each of them is.
"""
