"""From what was asked for to what is heard, live or in a file."""
