"""What can be asked for during play, the keys and pedals that ask for it, and the names of keys.

The usual keys need one finger or one foot: large keys at the edge of the keyboard, and letters for
those who prefer them. Most pedals send Page Up and Page Down. Page Up always means "that was not
it": a drop, of what is thrown or was thrown last. Page Down always means "on": in a rest it goes
on at once, and while something is thrown, that was clean. One pedal alone means both, by the
moment and by pressing twice. Pedals that send arrows go back and on, or change the tempo. The key
that ends the practice is not one that is hit by accident.

A key that types a character is named by it, in lower case; the others have names of their own.
Modifiers stand before the name: ``shift-up``, ``ctrl-alt-left``, ``alt-x``. Names are the same in
the settings, on the screen and in the program.
"""

import os
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from throwcount.caller.terminal.text import near

MODIFIERS: Final = ("ctrl", "alt", "shift")
"""In the order in which they stand in a name."""

NAMED: Final = (
    *("space", "enter", "tab", "backspace", "escape", "insert", "delete"),
    *("up", "down", "left", "right", "home", "end", "page-up", "page-down"),
    *(f"f{number}" for number in range(1, 21)),
)
"""The keys that type no character."""

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
"""Other names that are understood."""

TAKEN: Final = frozenset({"ctrl-c", "ctrl-z", "ctrl-\\"})
"""Keys that the system itself acts on: they stop, suspend and quit."""

RESUMED: Final = "resumed"
"""Stands among the keys after the program was suspended: time has passed, and the screen is not as
it was. No key has this name."""

WRITTEN: Final = re.compile(r"(?P<held>(?:(?:ctrl|alt|shift)[-+ _])*)(?P<key>.+)")


def with_modifiers(key: str, held: frozenset[str]) -> str:
    """Return the name of a key while `held` of the `MODIFIERS` are held down."""
    return "-".join([*(name for name in MODIFIERS if name in held), key])


def key_name(text: str) -> str | None:
    """Return the name of the key that a person wrote as `text`; None if there is no such key.

    Capitals make no difference, nor do spaces and underscores for dashes: ``Page Down`` is
    ``page-down``. A character already includes its shift: ``!`` is a key, ``shift-1`` is not.
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


FOOT_SECONDS: Final = 0.7
"""Longer than the time before a key that is held down repeats: a foot rests on a pedal."""

REPEAT_SECONDS: Final = 0.12
"""Longer than the time between two repetitions of a key that is held down."""

TWICE_SECONDS: Final = 0.45
"""Two presses of the one pedal within this time are one thing; a key that is held down usually
waits for half a second before it repeats."""


@dataclass(frozen=True, slots=True)
class Control:
    """Something that can be asked for."""

    name: str
    """What it is called, in the settings too."""
    keys: tuple[str, ...]
    """The usual keys, the one to show first."""
    purpose: str
    """What it does, for the settings file."""
    settle: float = 0.0
    """Seconds after a press within which another one is the same key held down."""
    throwing: str = ""
    """What the screen calls it while something is thrown, if not by its name."""
    resting: str = ""
    """What the screen calls it in a rest, if not by its name."""


PAUSE: Final = Control("pause", ("space", "p"), "pause, and go on", FOOT_SECONDS)
AGAIN: Final = Control("again", ("home", "a"), "again from the start of this part", FOOT_SECONDS)
NEXT: Final = Control("next", ("right", "n"), "on to the next part", REPEAT_SECONDS)
BACK: Final = Control("back", ("left", "b"), "back to the part before", REPEAT_SECONDS)
SLOWER: Final = Control("slower", ("down", "-"), "lower the tempo")
FASTER: Final = Control("faster", ("up", "+", "="), "raise the tempo")
VOICE: Final = Control("voice", ("v",), "voice off, and on", FOOT_SECONDS)
CLEAN: Final = Control("clean", ("c",), "this set was clean", FOOT_SECONDS)
DROP: Final = Control(
    "drop", ("page-up", "d"), "an object was dropped", FOOT_SECONDS, resting="not clean"
)
GO: Final = Control(
    "go", ("page-down",), "go on in a rest; otherwise mark clean", FOOT_SECONDS, "clean", "go now"
)
PEDAL: Final = Control(
    "pedal",
    (),
    "all with one pedal: a drop, or go on in a rest; pressed twice, clean",
    FOOT_SECONDS,
    "drop, twice clean",
    "go now, twice clean",
)
STOP: Final = Control("stop", ("q",), "end the practice", FOOT_SECONDS)

CONTROLS: Final = (PAUSE, AGAIN, NEXT, BACK, SLOWER, FASTER, VOICE, GO, CLEAN, DROP, PEDAL, STOP)
"""In the order in which they are shown."""

TWICE: Final = Control("twice", (), "the one pedal, pressed twice")
"""Has no key of its own."""

PEDAL_KEYS: Final = frozenset({"page-down", "page-up"})
"""The keys that most pedals send."""

BY_NAME: Final = {control.name: control for control in CONTROLS}


class KeysError(ValueError):
    """Keys that cannot be assigned; `faults` has a plain sentence for each fault."""

    def __init__(self, faults: Sequence[str]) -> None:
        super().__init__(" ".join(faults))
        self.faults = tuple(faults)


def key_map(own: Mapping[str, Sequence[str]] | None = None) -> dict[str, Control]:
    """Return what each key asks for.

    `own` holds the keys that a person chose, by the name of the control. They replace its usual
    keys, and are taken away from other controls; a control may also have no key at all.

    Raises
    ------
    KeysError
        If a control or a key is unknown, or a key is the system's, or asks for two things.
    """
    own = own or {}
    faults = list(_faults(own))
    if faults:
        raise KeysError(faults)
    chosen = {key_name(key) or "": BY_NAME[name] for name, keys in own.items() for key in keys}
    usual = {
        key: control for control in CONTROLS if control.name not in own for key in control.keys
    }
    return {**chosen, **{key: control for key, control in usual.items() if key not in chosen}}


def with_one_pedal(keys: Mapping[str, Control]) -> dict[str, Control]:
    """Return `keys` with the same for whichever key a juggler's only pedal sends."""
    return {**keys, **dict.fromkeys(sorted(PEDAL_KEYS), PEDAL)}


def keys_of(control: Control, keys: Mapping[str, Control]) -> tuple[str, ...]:
    """Return the keys that ask for `control`; the first is the one to show."""
    return tuple(key for key, asked in keys.items() if asked is control)


def legend(
    keys: Mapping[str, Control], controls: Iterable[Control] = CONTROLS, *, resting: bool = False
) -> tuple[tuple[str, str], ...]:
    """Return, for the screen, a key and what it does now, for each of `controls` that has a key.

    `resting` tells whether nothing is being thrown. Where two do the same, the first is shown.
    """
    shown: dict[str, str] = {}
    for control in controls:
        for key in keys_of(control, keys)[:1]:
            label = control.resting if resting else control.throwing
            shown.setdefault(label or control.name, key)
    return tuple((key, label) for label, key in shown.items())


class Presses:
    """Turns keys into what they ask for, and takes a key that is held down for one press.

    `keys` tells what each key asks for; see `key_map`.
    """

    def __init__(self, keys: Mapping[str, Control]) -> None:
        self._keys = keys
        self._last: tuple[Control | None, float] = (None, 0.0)

    def asked(self, key: str, moment: float) -> Control | None:
        """Return what `key`, pressed at `moment` in seconds, asks for; None for nothing new."""
        control = self._keys.get(key)
        if control is None:
            return None
        before, when = self._last
        self._last = (control, moment)
        if control is not before or moment - when >= control.settle:
            return control
        if control is PEDAL and REPEAT_SECONDS <= moment - when < TWICE_SECONDS:
            return TWICE
        return None


def _faults(own: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """Yield a sentence for each thing that is wrong."""
    by_key: dict[str, str] = {}
    for name, keys in own.items():
        if name not in BY_NAME:
            yield (
                f"{name!r} is not a control: the controls are {', '.join(BY_NAME)}."
                f"{near(name, BY_NAME)}"
            )
            continue
        for written in keys:
            key = key_name(written)
            if key is None:
                yield (
                    f"{written!r} for {name} is not a key: a key is a character, such as 'x', or a "
                    f"name, such as 'space' or 'page-down'.{near(written, NAMED)}"
                )
            elif key in TAKEN:
                yield f"{written!r} for {name} is a key that the system itself acts on."
            elif by_key.setdefault(key, name) != name:
                yield f"The key {key!r} asks for both {by_key[key]} and {name}; keep one of them."


def in_front(terminal: int) -> bool:
    """Return whether this program has the terminal, and does not run in the background.

    `terminal` is a file descriptor.
    """
    if not hasattr(os, "tcgetpgrp"):  # Windows has no such thing.
        return True
    try:
        return os.tcgetpgrp(terminal) == os.getpgrp()
    except OSError:  # It is not the terminal that controls this program.
        return True
