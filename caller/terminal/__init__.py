"""What a terminal can show: texts that fit, colours, progress, and pictures in files.

Single keys and pedal presses, read while sound plays.

Bytes from the terminal become names of keys (`decoder`, by the tables in `sequences`), pasted text
is kept out (`paste`), and the terminal is given back as it was (`posix`). Foot pedals that say they
are a keyboard send the same bytes as the keys they stand for.

What is heard, on a screen that is read from two metres away, with both hands full.

A `glance` is what there is to see at one moment, as plain data; `page` lays it out on a terminal
and `lines` puts it in sentences where that cannot be; `screen` shows either. Large signs are drawn
from the shapes in `glyphs`.

Playing from the speakers, with the throw on the screen and a hand on the keys.
"""
