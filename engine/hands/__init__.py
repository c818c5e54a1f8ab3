"""Hands: what each hand has to do in a pattern, and one number for how hard that is."""
