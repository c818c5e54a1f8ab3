"""Practising hands-free: sets and rests that lead themselves, and what can be asked for.

Listening to a practice while it goes on: what is heard, set by set, and drops as they happen.
"""
