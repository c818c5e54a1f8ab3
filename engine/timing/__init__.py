"""Timing: tempo maps, runs, the objects followed through a run, and timelines of beats."""
