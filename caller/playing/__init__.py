"""Playing from the speakers, with the throw on the screen and a hand on the keys."""
