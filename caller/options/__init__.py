"""What can be typed after a command, and what it asks for.

A person's own defaults, in a file: what they hold (`model`), and how they are read (`file`).
"""
