"""A person's own defaults, in a file: what they hold (`model`), and how they are read (`file`)."""
