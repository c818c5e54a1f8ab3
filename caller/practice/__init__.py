"""Hands-free practice: sets and rests that follow each other, keys, and live listening."""
