"""What keys are called, in the settings, on the screen and in the program.

A key that makes a sign is called by the sign, in lower case; the others have names. With other
keys held down the name says so: ``shift-up``, ``ctrl-alt-left``, ``alt-x``.
"""

import re
from typing import Final

MODIFIERS: Final = ("ctrl", "alt", "shift")
"""In the order in which a name has them."""

NAMED: Final = (
    *("space", "enter", "tab", "backspace", "escape", "insert", "delete"),
    *("up", "down", "left", "right", "home", "end", "page-up", "page-down"),
    *(f"f{number}" for number in range(1, 21)),
)
"""The keys that make no sign."""

OTHER_NAMES: Final = {
    "return": "enter",
    "esc": "escape",
    "del": "delete",
    "ins": "insert",
    "pageup": "page-up",
    "pgup": "page-up",
    "pagedown": "page-down",
    "pgdn": "page-down",
    "plus": "+",
    "minus": "-",
    # A terminal sends the same for both.
    "ctrl-h": "backspace",
    "ctrl-i": "tab",
    "ctrl-j": "enter",
    "ctrl-m": "enter",
    "ctrl-[": "escape",
}
"""Names that are understood as well."""

TAKEN: Final = frozenset({"ctrl-c", "ctrl-z", "ctrl-\\"})
"""Keys that the system acts on by itself: they stop, suspend and quit."""

RESUMED: Final = "resumed"
"""Stands among the keys where the program was suspended and goes on: time has passed, and the
screen is not as it was. No key is called so."""

WRITTEN: Final = re.compile(r"(?P<held>(?:(?:ctrl|alt|shift)[-+ _])*)(?P<key>.+)")


def with_modifiers(key: str, held: frozenset[str]) -> str:
    """Return the name of a key while `held` of the `MODIFIERS` are held down."""
    return "-".join([*(name for name in MODIFIERS if name in held), key])


def key_name(text: str) -> str | None:
    """Return the one name of the key that a person wrote as `text`; None where there is none.

    Capitals make no difference, nor do spaces and underscores for dashes: ``Page Down`` is
    ``page-down``. A sign comes with its shift in it: ``!`` is a key and ``shift-1`` is none.
    """
    if text == " ":
        return "space"
    written = WRITTEN.fullmatch(text.strip().lower())
    if written is None:
        return None
    held = frozenset(re.findall("[a-z]+", written["held"]))
    key = written["key"]
    if len(key) > 1:
        key = re.sub("[ _]", "-", key)
    key = OTHER_NAMES.get(key, key)
    character = len(key) == 1 and key.isprintable() and "shift" not in held
    if not character and key not in NAMED:
        return None
    name = with_modifiers(key, held)
    return OTHER_NAMES.get(name, name)
