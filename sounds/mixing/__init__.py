"""A timeline becomes clicks and words, each on its frame and with its gain, and then samples."""
