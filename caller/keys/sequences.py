"""What terminals send for the keys that make no sign, as tables.

A control sequence is ``ESC [``, parameters, and a final byte (ECMA-48, 5th edition, 5.4); many
terminals send ``ESC O`` and the final byte instead while their cursor keys or number pad are in
application mode (DEC VT100). The numbers before ``~`` are those of the DEC VT220; a second
parameter tells what is held down with the key, as xterm began it: one more than the sum of
1 for shift, 2 for alt and 4 for ctrl. rxvt has its own final bytes for that, the Linux console
for F1 to F5.
"""

from typing import Final

BY_FINAL: Final = {
    "A": "up",
    "B": "down",
    "C": "right",
    "D": "left",
    "F": "end",
    "H": "home",
    "M": "enter",
    "P": "f1",
    "Q": "f2",
    "R": "f3",
    "S": "f4",
    "Z": "shift-tab",
    "a": "shift-up",
    "b": "shift-down",
    "c": "shift-right",
    "d": "shift-left",
}
"""After ``ESC [``, without a parameter or with 1 as the first."""

BY_FINAL_OF_APPLICATION: Final = {
    **{final: key for final, key in BY_FINAL.items() if final.isupper()},
    "a": "ctrl-up",
    "b": "ctrl-down",
    "c": "ctrl-right",
    "d": "ctrl-left",
    **{chr(ord("p") + digit): str(digit) for digit in range(10)},
    "j": "*",
    "k": "+",
    "l": ",",
    "m": "-",
    "n": ".",
    "o": "/",
    "X": "=",
}
"""After ``ESC O``; the second half is the number pad."""

BY_NUMBER: Final = {
    1: "home",
    2: "insert",
    3: "delete",
    4: "end",
    5: "page-up",
    6: "page-down",
    7: "home",
    8: "end",
    **{number: f"f{number - 10}" for number in range(11, 16)},
    **{number: f"f{number - 11}" for number in range(17, 22)},
    **{number: f"f{number - 12}" for number in range(23, 27)},
    **{number: f"f{number - 13}" for number in (28, 29)},
    **{number: f"f{number - 14}" for number in range(31, 35)},
}
"""After ``ESC [``, before one of `NUMBER_ENDS`."""

NUMBER_ENDS: Final[dict[str, frozenset[str]]] = {
    "~": frozenset(),
    "$": frozenset({"shift"}),
    "^": frozenset({"ctrl"}),
    "@": frozenset({"ctrl", "shift"}),
}
"""What each says is held down."""

BY_FINAL_OF_CONSOLE: Final = {final: f"f{index}" for index, final in enumerate("ABCDE", start=1)}
"""After ``ESC [ [``."""

MODIFIER_BITS: Final = {1: "shift", 2: "alt", 4: "ctrl"}

CONTROLS: Final = {
    0x00: "ctrl-space",
    **{0x01 + index: f"ctrl-{letter}" for index, letter in enumerate("abcdefghijklmnopqrstuvwxyz")},
    0x08: "backspace",
    0x09: "tab",
    0x0A: "enter",
    0x0D: "enter",
    0x1C: "ctrl-\\",
    0x1D: "ctrl-]",
    0x1E: "ctrl-^",
    0x1F: "ctrl-_",
    0x7F: "backspace",
}
"""Single bytes that are no signs; escape stands apart, since longer sequences begin with it."""

PASTE_ON: Final = b"\x1b[?2004h"
PASTE_OFF: Final = b"\x1b[?2004l"
"""Ask a terminal to put pasted text between `PASTE_BEGINS` and `PASTE_ENDS` (xterm), or no more."""

PASTE_BEGINS: Final = b"\x1b[200~"
PASTE_ENDS: Final = b"\x1b[201~"
