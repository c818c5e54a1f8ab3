"""A whole act: parts in order, what leads from one to the next, and its running order."""
