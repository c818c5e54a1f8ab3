"""Reads keys from a console on Windows. Written from its documentation, and not tried."""

import msvcrt
import sys
import time
from typing import Final

from throwcount.caller.terminal.key_decoder import CONTROL_BYTES

if sys.platform != "win32":
    raise ImportError("This module reads the console of Windows.")

PREFIXES: Final = ("\x00", "\xe0")
"""One of these comes before the code of a key that types no character."""

BY_CODE: Final = {
    "H": "up",
    "P": "down",
    "K": "left",
    "M": "right",
    "G": "home",
    "O": "end",
    "I": "page-up",
    "Q": "page-down",
    "R": "insert",
    "S": "delete",
    **{chr(0x3A + number): f"f{number}" for number in range(1, 11)},
    "\x85": "f11",
    "\x86": "f12",
}
ESCAPE: Final = "\x1b"
BETWEEN_LOOKS: Final = 0.01
"""Seconds between looks at the keyboard; the console cannot wait for a key with a time limit."""


class ConsoleKeys:
    """The keys of the console that the program runs in."""

    def read(self, seconds: float) -> list[str]:
        """Wait for keys, at most `seconds`; return their names, or none when the time is over."""
        end = time.monotonic() + seconds
        while not msvcrt.kbhit():
            left = end - time.monotonic()
            if left <= 0:
                return []
            time.sleep(min(left, BETWEEN_LOOKS))
        keys = []
        while msvcrt.kbhit():
            key = _key(msvcrt.getwch())
            if key:
                keys.append(key)
        return keys


def _key(character: str) -> str | None:
    if character in PREFIXES:
        return BY_CODE.get(msvcrt.getwch())
    if character == "\x03":
        raise KeyboardInterrupt
    if character == ESCAPE:
        return "escape"
    if ord(character) in CONTROL_BYTES:
        return CONTROL_BYTES[ord(character)]
    if character == " ":
        return "space"
    return character.lower() if character.isprintable() else None
