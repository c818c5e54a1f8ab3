"""Text that fits a terminal, single keys and pedal presses, and a screen to read from afar.

Bytes become names of keys (`key_decoder`), pasted text is kept out, and the terminal is given back
as it was (`posix_keys`, `windows_keys`). Foot pedals that act as a keyboard send the same bytes as
the keys they stand for. What the keys ask for is in `controls`.

A `glance` is all there is to see at one moment, as plain data. `screen` lays it out over the whole
terminal, to be read from two metres away with both hands full, or else in lines.
"""
