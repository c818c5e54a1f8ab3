"""Single keys and pedal presses, read while sound plays.

Bytes from the terminal become names of keys (`decoder`, by the tables in `sequences`), pasted text
is kept out (`paste`), and the terminal is given back as it was (`posix`). Foot pedals that say they
are a keyboard send the same bytes as the keys they stand for.
"""
