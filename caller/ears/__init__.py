"""Listening to a practice while it goes on: what is heard, set by set, and drops as they happen."""
