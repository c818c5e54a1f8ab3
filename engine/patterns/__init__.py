"""Patterns: notation, validity, states and orbits, flight times and heights, canonical form."""
