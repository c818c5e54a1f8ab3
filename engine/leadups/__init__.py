"""Easier patterns that lead up to one, in steps, and how hard each of them is."""
