"""Listening to a take, and showing and keeping what it tells."""
