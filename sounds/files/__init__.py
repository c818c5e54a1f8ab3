"""Sound in files that are whole or not there.

Titles and chapters inside audio files, so that other programs find their way in them.
"""
