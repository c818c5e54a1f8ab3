"""What there is to see at one moment, as plain data, and the throws drawn from large characters.

The current throw is as large as possible; the coming throws stand below it. The shapes of the
characters are our own, seven squares high. Those that are easily confused differ: a 0 has a stroke
inside and an o has none, a 1 has a flag and an i two bars, and the corners of 2, 5, 6 and 8 are
not those of z, s, g and b.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from rich.text import Text

from throwcount.caller.terminal.printing import length_text
from throwcount.engine.patterns.flight import height
from throwcount.engine.patterns.pattern import VALUE_DIGITS, Hand
from throwcount.engine.timing.timeline import (
    COUNT_IN,
    RUN_OUT,
    Beat,
    has_throws,
    notation,
    own_manner,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Glance:
    """What there is to see at one moment."""

    beat: Beat | None = None
    """The last beat heard that has something to show: of a pair, the beat on which it is thrown.
    None before the first."""
    coming: tuple[Beat, ...] = ()
    """A few beats after it."""
    place: str = ""
    """The place in the practice, such as "set 2 of 5"; empty for a practice of one part."""
    cycles: int | None = None
    """Cycles of the part; None without end."""
    following: str = ""
    """What comes after this part, and when, such as "51 in 12 beats"; empty if nothing does."""
    seconds_to_throw: int | None = None
    """Seconds to the first throw, while the hands are filled; None after it."""
    hands: str = ""
    """What the hands begin with, such as "right 2, left 1"; empty after the beginning."""
    seconds_left: int | None = None
    """Seconds to the end; None without end."""
    clean: int | None = None
    """Marks for clean sets; None where no marks are taken."""
    drops: int | None = None
    """Marks for drops; None where no marks are taken."""
    large: str = ""
    """A word or a time to show in large characters in place of throws, such as "rest" or "0:25"."""
    notice: str = ""
    """A sentence that matters now."""
    legend: tuple[tuple[str, str], ...] = ()
    """Keys and what they ask for; see `throwcount.caller.terminal.controls.legend`."""


def title(glance: Glance) -> str:
    """Return the name of the part that is thrown, or else of the coming one."""
    beats = ([glance.beat] if glance.beat else []) + list(glance.coming)
    return next((beat.part for beat in beats if beat.cycle is not None), "")


def how(glance: Glance) -> str:
    """Return how the throws of this part are made, in words; empty if it is not known."""
    return "" if glance.beat is None else glance.beat.how


def getting_ready(glance: Glance) -> str:
    """Return how much time is left to fill the hands, and with what; empty after that."""
    if glance.seconds_to_throw is None:
        return ""
    first = f"first throw in {length_text(glance.seconds_to_throw)}"
    return f"{first}   in hand: {glance.hands}" if glance.hands else first


def heights(glance: Glance) -> Iterator[tuple[str, float]]:
    """Yield the throws of this part that fly, the highest first, with their heights in metres."""
    beats = ([glance.beat] if glance.beat else []) + list(glance.coming)
    part = title(glance)
    kinds = {
        (VALUE_DIGITS.index(throw[0]), throw == "2x")  # crossing changes no other height
        for beat in beats
        if beat.part == part and beat.cycle is not None
        for throw in (*beat.throws.right, *beat.throws.left)
    }
    for value, crossed in sorted(kinds, reverse=True):
        metres = height(value, beats[0].tempo, crossed=crossed)
        if metres is not None:
            yield VALUE_DIGITS[value] + ("x" if crossed else ""), metres


ROWS: Final = 7
"""Squares of a character, from top to bottom."""

BLOCKS: Final = " \u2580\u2584\u2588"
"""A cell that is empty, and cells whose upper half, lower half or whole is filled."""

PLAIN: Final = "#"
GAP: Final = 1
"""Squares between two characters."""

SHAPES: Final = {
    "0": ".###. #...# #..## #.#.# ##..# #...# .###.",
    "1": "..#.. .##.. ..#.. ..#.. ..#.. ..#.. .###.",
    "2": ".###. #...# ....# ...#. ..#.. .#... #####",
    "3": "####. ....# ....# .###. ....# ....# ####.",
    "4": "...## ..#.# .#..# #...# ##### ....# ....#",
    "5": "##### #.... ####. ....# ....# #...# .###.",
    "6": "..##. .#... #.... ####. #...# #...# .###.",
    "7": "##### ....# ...#. ...#. ..#.. ..#.. ..#..",
    "8": ".###. #...# #...# .###. #...# #...# .###.",
    "9": ".###. #...# #...# .#### ....# ...#. .##..",
    "a": "..#.. .#.#. #...# #...# ##### #...# #...#",
    "b": "####. #..#. #..#. ####. #...# #...# ####.",
    "c": ".#### #.... #.... #.... #.... #.... .####",
    "d": "###.. #..#. #...# #...# #...# #..#. ###..",
    "e": "##### #.... #.... ###.. #.... #.... #####",
    "f": "##### #.... #.... ###.. #.... #.... #....",
    "g": ".#### #.... #.... #.### #...# #...# .####",
    "h": "#...# #...# #...# ##### #...# #...# #...#",
    "i": "##### ..#.. ..#.. ..#.. ..#.. ..#.. #####",
    "j": "..### ...#. ...#. ...#. ...#. #..#. .##..",
    "k": "#...# #..#. #.#.. ##... #.#.. #..#. #...#",
    "l": "#.... #.... #.... #.... #.... #.... #####",
    "m": "#...# ##.## #.#.# #.#.# #...# #...# #...#",
    "n": "#...# ##..# ##..# #.#.# #..## #..## #...#",
    "o": ".###. #...# #...# #...# #...# #...# .###.",
    "p": "####. #...# #...# ####. #.... #.... #....",
    "q": ".###. #...# #...# #...# #.#.# #..#. .##.#",
    "r": "####. #...# #...# ####. #.#.. #..#. #...#",
    "s": ".#### #.... #.... .###. ....# ....# ####.",
    "t": "##### ..#.. ..#.. ..#.. ..#.. ..#.. ..#..",
    "u": "#...# #...# #...# #...# #...# #...# .###.",
    "v": "#...# #...# #...# #...# .#.#. .#.#. ..#..",
    "w": "#...# #...# #...# #.#.# #.#.# ##.## #...#",
    "x": "#...# #...# .#.#. ..#.. .#.#. #...# #...#",
    "y": "#...# #...# .#.#. ..#.. ..#.. ..#.. ..#..",
    "z": "##### ....# ...#. ..#.. .#... #.... #####",
    "(": ".# #. #. #. #. #. .#",
    ")": "#. .# .# .# .# .# #.",
    "[": "## #. #. #. #. #. ##",
    "]": "## .# .# .# .# .# ##",
    ",": ".. .. .. .. .. .# #.",
    ":": ". # # . # # .",
    "|": "# # # # # # #",
    " ": ". . . . . . .",
    "\u25a0": "..... ##### ##### ##### ##### ##### .....",
}
"""Rows from the top; ``#`` is filled."""

TURN: Final = "\u25a0"
"""A square, for a beat of the count-in."""


def can_draw(text: str) -> bool:
    """Return whether `text` is not empty, and each of its characters has a shape."""
    return bool(text) and set(text) <= SHAPES.keys()


def size(text: str, scale: int) -> tuple[int, int]:
    """Return the columns and rows that `text` takes with squares `scale` half rows high."""
    squares = sum(len(SHAPES[character].split(" ", 1)[0]) + GAP for character in text) - GAP
    return squares * scale, (ROWS * scale + 1) // 2


def largest_scale(texts: list[str], columns: int, rows: int, *, plain: bool) -> int:
    """Return the largest scale at which each of `texts` fits; 0 if there is none.

    `columns` and `rows` are the room for each text. `plain` tells whether there are no half cells,
    so that scales are even.
    """
    step = 2 if plain else 1
    scale = 0
    while all(
        width <= columns and height <= rows
        for width, height in (size(text, scale + step) for text in texts)
    ):
        scale += step
        if scale >= rows * 2:
            break
    return scale


def drawn(text: str, scale: int, *, plain: bool) -> list[str]:
    """Return `text` in large characters: a string for each row, all of one length.

    Every character has a shape. A square takes `scale` columns and half rows; the scale is even
    where `plain`, that is with ASCII characters.
    """
    squares = [
        (" " * GAP).join(SHAPES[character].split(" ")[row] for character in text).replace(" ", ".")
        for row in range(ROWS)
    ]
    halves = ["".join(square * scale for square in row) for row in squares for _ in range(scale)]
    if len(halves) % 2:
        halves.append("." * len(halves[0]))
    rows = zip(halves[::2], halves[1::2], strict=True)
    return ["".join(map(_cell, upper, lower, [plain] * len(upper))) for upper, lower in rows]


def _cell(upper: str, lower: str, plain: bool) -> str:
    filled = (upper == "#") + 2 * (lower == "#")
    return (PLAIN if filled else " ") if plain else BLOCKS[filled]


HAND_STYLES: Final[dict[Hand, str]] = {"left": "bold magenta", "right": "bold cyan"}
MARGIN: Final = 2
"""Columns kept free beside a large character."""

FEW_TURNS: Final = 4
MOST_TURNS: Final = 8
READY: Final = "ready"
CATCH: Final = "catch"
NEXT: Final = "next  "
BAR: Final = "|"


def current(glance: Glance, columns: int, rows: int, *, plain: bool) -> list[Text]:
    """Return `rows` lines with the current throw as large as there is room for.

    Throws of the left hand are in the left half, throws of the right hand in the right half.
    """
    word = _word(glance)
    if word:
        room = [TURN * FEW_TURNS] if TURN in word else []
        lines = _large(word, [word, *room], columns - MARGIN, rows, plain=plain)
        return [Text(line.center(columns), "bold") for line in _centred(lines, rows)]
    half = columns // 2
    sides = _sides(glance.beat) if glance.beat else ("", "")
    beats = (glance.beat, *glance.coming) if glance.beat else ()
    shown = [side for beat in beats if beat.cycle is not None for side in _sides(beat) if side]
    labelled = rows > 1
    halves = []
    for (hand, style), characters in zip(HAND_STYLES.items(), sides, strict=True):
        lines = _large(characters, shown, half - MARGIN, rows - labelled, plain=plain)
        label = _label(hand, glance, half - MARGIN)
        lines = [*_centred(lines, rows - labelled), *[label] * labelled]
        halves.append([Text(line.center(half), style if characters else "dim") for line in lines])
    return [left + right for left, right in zip(*halves, strict=True)]


def coming_drawn(glance: Glance, columns: int, scale: int, *, plain: bool) -> list[Text]:
    """Return the next throws, drawn at a scale; no lines if the first cannot be drawn.

    Where there is no next throw the lines are empty, so that what is above them keeps its place.
    """
    room = columns - len(NEXT)
    characters = ""
    for character in _coming(glance):
        longer = f"{characters} {character}" if characters else character
        if not can_draw(longer) or size(longer, scale)[0] > room:
            if not characters:
                return []
            break
        characters = longer
    lines = drawn(characters or " ", scale, plain=plain)
    return [
        Text(label.ljust(len(NEXT))).append(line)
        for label, line in zip(_centred([NEXT], len(lines)), lines, strict=True)
    ]


def coming_written(glance: Glance, columns: int) -> Text:
    """Return the next throws as one line."""
    line = Text(NEXT)
    for character in _coming(glance):
        if len(line) + len(character) > columns:
            break
        line.append(f"{character} ", "bold")
    return line


def _word(glance: Glance) -> str:
    """Return what is shown in place of throws; empty if nothing is."""
    beat = glance.beat
    if glance.large or beat is None:
        return glance.large or READY
    if beat.part == COUNT_IN:
        return TURN * min(-beat.beat, MOST_TURNS)
    return CATCH if beat.part == RUN_OUT else ""


def _label(hand: Hand, glance: Glance, columns: int) -> str:
    """Return a hand with the manner of the throw that it makes now, or else makes next."""
    beats = filter(None, (glance.beat, *glance.coming))
    turn = next((beat for beat in beats if getattr(beat.throws, hand)), None)
    how = "" if turn is None else own_manner(turn, hand)
    return f"{hand}: {how}"[:columns] if how else hand


def _sides(beat: Beat) -> tuple[str, str]:
    return "".join(beat.throws.left), "".join(beat.throws.right)


def _large(text: str, room_for: list[str], columns: int, rows: int, *, plain: bool) -> list[str]:
    """Return `text` at the largest scale at which `room_for` fits, or as it is without one."""
    drawable = can_draw(text) and all(map(can_draw, room_for))
    scale = largest_scale(room_for, columns, rows, plain=plain) if drawable else 0
    if scale:
        return drawn(text, scale, plain=plain)
    return [text.replace(TURN, "* " if plain else f"{TURN} ").rstrip()[: max(columns, 1)]]


def _centred(lines: list[str], rows: int) -> list[str]:
    """Return `rows` lines: `lines` with empty ones above and below."""
    above = max(0, rows - len(lines)) // 2
    return [*[""] * above, *lines, *[""] * max(0, rows - len(lines) - above)]


def _coming(glance: Glance) -> Iterator[str]:
    """Yield the throws of the coming beats in notation, with a bar where a cycle begins."""
    before = glance.beat
    for beat in filter(has_throws, glance.coming):
        is_long = before is not None and before.cycle_beat != 0
        if beat.cycle_beat == 0 and is_long and before is not None and before.cycle is not None:
            yield BAR
        yield notation(beat)
        before = beat
