"""A recording, read in blocks whatever its format and length, and written."""
