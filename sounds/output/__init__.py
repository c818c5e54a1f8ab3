"""Sound from the speakers, made by a process of its own."""
