"""What is heard, on a screen that is read from two metres away, with both hands full.

A `glance` is what there is to see at one moment, as plain data; `page` lays it out on a terminal
and `lines` puts it in sentences where that cannot be; `screen` shows either. Large signs are drawn
from the shapes in `glyphs`.
"""
