"""Titles and chapters inside audio files, so that other programs find their way in them."""
