"""Turns bytes from a terminal into names of keys.

The names depend on the bytes alone and not on how they are cut into pieces, as long as the pieces
of one key come without a pause: a key that sends several bytes sends them at once, while a person
who presses Escape sends nothing after it for a while.

A control sequence is ``ESC [``, parameters, and a final byte (ECMA-48, 5th edition, 5.4). Many
terminals send ``ESC O`` and the final byte instead while their cursor keys or number pad are in
application mode (DEC VT100). The numbers before ``~`` are those of the DEC VT220. A second
parameter, introduced by xterm, tells the modifiers: one more than the sum of 1 for shift, 2 for
alt and 4 for ctrl. rxvt has final bytes of its own for them, and the Linux console for F1 to F5.
"""

import re
from typing import Final

from throwcount.caller.terminal.controls import with_modifiers

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
"""The final byte after ``ESC [``, without a parameter or with 1 as the first."""

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
"""The final byte after ``ESC O``; the second half is the number pad."""

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
"""The number after ``ESC [`` and before one of `NUMBER_ENDS`."""

NUMBER_ENDS: Final[dict[str, frozenset[str]]] = {
    "~": frozenset(),
    "$": frozenset({"shift"}),
    "^": frozenset({"ctrl"}),
    "@": frozenset({"ctrl", "shift"}),
}
"""The modifiers that each of these final bytes stands for."""

BY_FINAL_OF_CONSOLE: Final = {final: f"f{index}" for index, final in enumerate("ABCDE", start=1)}
"""The final byte after ``ESC [ [``."""

MODIFIER_BITS: Final = {1: "shift", 2: "alt", 4: "ctrl"}

CONTROL_BYTES: Final = {
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
"""Single bytes that are not characters; not escape, with which longer sequences begin."""

PASTE_ON: Final = b"\x1b[?2004h"
PASTE_OFF: Final = b"\x1b[?2004l"
"""Ask a terminal to put pasted text between `PASTE_BEGINS` and `PASTE_ENDS` (xterm), or to stop."""

PASTE_BEGINS: Final = b"\x1b[200~"
PASTE_ENDS: Final = b"\x1b[201~"

ESCAPE_SECONDS: Final = 0.05
"""After this silence no more bytes of a key will come."""

PASTE_SECONDS: Final = 1.0
"""After this silence a paste is over, even without its end: keys must not stay dead."""

ESCAPE: Final = 0x1B
# An escape here begins the next key.
CONSOLE: Final = re.compile(rb"\x1b\[\[(?P<final>[^\x1b])")
SEQUENCE: Final = re.compile(rb"\x1b\[(?!\[)(?P<numbers>[0-?]{0,64})(?P<final>[ -/]{0,4}[@-~])")
# rxvt ends sequences of one number with `$`, which comes before a final byte in ECMA-48.
SEQUENCE_OF_RXVT: Final = re.compile(rb"\x1b\[(?P<numbers>[0-9]{1,2})(?P<final>\$)")
SEQUENCE_BEGUN: Final = re.compile(rb"\x1b\[(\[|[0-?]{0,64}[ -/]{0,4})")
APPLICATION: Final = re.compile(rb"\x1bO(?P<modifier>[1-8]?)(?P<final>[@-~])")
APPLICATION_BEGUN: Final = re.compile(rb"\x1bO[1-8]?")
STRING_BEGINS: Final = re.compile(rb"\x1b[P\]X^_]")
STRING_ENDS: Final = re.compile(rb"\x07|\x1b\\")
"""Strings that terminals answer with, as device control (ECMA-48, 5.6); xterm's end in BEL."""

PASTE_OVER: Final = re.compile(re.escape(PASTE_ENDS))
LONGEST_END: Final = len(PASTE_ENDS)


class KeyDecoder:
    """Takes bytes with their times and returns the names of keys; ignores what means nothing."""

    def __init__(self) -> None:
        self._held = b""
        self._last = 0.0
        self._passed_over: re.Pattern[bytes] | None = None

    @property
    def deadline(self) -> float | None:
        """The time from which `expire` has something to do; None while nothing is begun."""
        if self._passed_over is PASTE_OVER:
            return self._last + PASTE_SECONDS
        begun = self._held or self._passed_over
        return self._last + ESCAPE_SECONDS if begun else None

    def feed(self, data: bytes, moment: float) -> list[str]:
        """Return the keys that are complete with `data`, which came at `moment`, in seconds."""
        keys = self.expire(moment)
        self._held += data
        self._last = moment
        while self._held:
            over = self._passed_over
            taken, key = self._pass_over(over) if over else self._next()
            if key:
                keys.append(key)
            if not taken:
                break
            self._held = self._held[taken:]
        return keys

    def expire(self, moment: float) -> list[str]:
        """Return the key that is complete because nothing followed for long enough."""
        deadline = self.deadline
        if deadline is None or moment < deadline:
            return []
        held, self._held = self._held, b""
        passed_over, self._passed_over = self._passed_over, None
        if passed_over is PASTE_OVER:
            return []
        if held == b"\x1b":
            return ["escape"]
        # Alt with [ or O sends ESC [ or ESC O with nothing after it.
        return [f"alt-{chr(held[1]).lower()}"] if held in {b"\x1b[", b"\x1bO"} else []

    def _pass_over(self, over: re.Pattern[bytes]) -> tuple[int, None]:
        """Return how many bytes belong to a string or a paste; its end may be cut in two."""
        end = over.search(self._held)
        if end is None:
            return max(0, len(self._held) - LONGEST_END + 1), None
        self._passed_over = None
        return end.end(), None

    def _next(self) -> tuple[int, str | None]:
        """Return the number of bytes of the first key, 0 if more are to come, and its name."""
        held = self._held
        if held[0] != ESCAPE:
            return _character(held)
        if held.startswith(PASTE_BEGINS):
            self._passed_over = PASTE_OVER
            return len(PASTE_BEGINS), None
        if STRING_BEGINS.match(held):
            self._passed_over = STRING_ENDS
            return 2, None
        return _sequence(held)


def _sequence(held: bytes) -> tuple[int, str | None]:
    """Return the length and name of what begins with an escape, as `KeyDecoder._next` does."""
    if found := CONSOLE.match(held):
        return found.end(), BY_FINAL_OF_CONSOLE.get(_text(found, "final"))
    if found := SEQUENCE_OF_RXVT.match(held) or SEQUENCE.match(held):
        return found.end(), _control_sequence(_text(found, "numbers"), _text(found, "final"))
    if found := APPLICATION.match(held):
        key = BY_FINAL_OF_APPLICATION.get(_text(found, "final"))
        return found.end(), _modified(key, _text(found, "modifier"))
    for begun in (SEQUENCE_BEGUN, APPLICATION_BEGUN):
        if found := begun.match(held):
            # What may still become a sequence waits; what cannot is ignored.
            return 0 if found.end() == len(held) else found.end(), None
    return _alt(held)


def _control_sequence(numbers: str, final: str) -> str | None:
    first, _, rest = numbers.partition(";")
    modifier = rest.partition(";")[0].partition(":")[0]
    if final not in NUMBER_ENDS:
        key = BY_FINAL.get(final) if first in {"", "1"} else None
        return _modified(key, modifier)
    key = BY_NUMBER.get(int(first)) if first.isdecimal() else None
    return _modified(key, modifier, NUMBER_ENDS[final])


def _modified(key: str | None, modifier: str, held: frozenset[str] = frozenset()) -> str | None:
    """Return the name of a key with the modifiers of a terminal's number, and those in `held`."""
    if key is None or not (modifier.isdecimal() or not modifier):
        return None
    bits = max(int(modifier or 1) - 1, 0)
    if bits >> len(MODIFIER_BITS):
        return None
    found = held.union(name for bit, name in MODIFIER_BITS.items() if bits & bit)
    # A name in a table, such as shift-tab, may already include a modifier.
    *own, last = key.split("-") if key.startswith(("shift-", "ctrl-")) else [key]
    return with_modifiers(last, found.union(own))


def _alt(held: bytes) -> tuple[int, str | None]:
    """Return the length and name of an escape before another key, which stands for alt."""
    if len(held) == 1:
        return 0, None
    if held[1] == ESCAPE:
        return 1, "escape"
    taken, key = _character(held[1:])
    if not taken:
        return 0, None
    if key is None:
        return 1 + taken, None
    *own, last = key.split("-", 1) if key.startswith("ctrl-") else [key]
    return 1 + taken, with_modifiers(last, frozenset({"alt", *own}))


def _character(held: bytes) -> tuple[int, str | None]:
    """Return the length and name of a character in UTF-8, or of a single control byte."""
    first = held[0]
    if first in CONTROL_BYTES:
        return 1, CONTROL_BYTES[first]
    length = 1 + (first >= 0xC0) + (first >= 0xE0) + (first >= 0xF0)  # noqa: PLR2004 - as RFC 3629 has it
    character = held[:length]
    try:
        text = character.decode()
    except UnicodeDecodeError as error:
        cut = error.reason == "unexpected end of data" and len(character) < length
        return 0 if cut else 1, None
    if text == " ":
        return 1, "space"
    lower = text.lower()
    return length, lower if len(lower) == 1 and text.isprintable() else None


def _text(found: re.Match[bytes], group: str) -> str:
    return found[group].decode("latin-1")
