"""What can be typed after a command, and what it asks for."""
