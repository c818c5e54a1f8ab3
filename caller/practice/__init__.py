"""Practising hands-free: sets and rests that lead themselves, and what can be asked for."""
