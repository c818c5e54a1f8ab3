"""What can be typed after a command, what it asks for, and a person's own defaults in a file."""
