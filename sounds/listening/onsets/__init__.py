"""Thuds: short sounds that rise at once and die away, and how sure each of them is."""
