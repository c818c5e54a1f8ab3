"""Sound files: read, written whole or not at all, with a title and chapters for other programs."""
