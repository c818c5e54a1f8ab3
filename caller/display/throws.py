"""The throws on the screen: the current one as large as can be, and those that come."""

from collections.abc import Iterator
from typing import Final

from rich.text import Text

from caller.display.glance import Glance, has_throws, notation
from caller.display.glyphs import TURN, can_draw, drawn, largest_scale, size
from engine.timing.timeline import COUNT_IN, RUN_OUT, Beat

HAND_STYLES: Final = {"left": "bold magenta", "right": "bold cyan"}
MARGIN: Final = 2
"""Columns kept free beside a large character."""

FEW_TURNS: Final = 4
MOST_TURNS: Final = 8
READY: Final = "ready"
CATCH: Final = "catch"
NEXT: Final = "next  "
BAR: Final = "|"


def current(glance: Glance, columns: int, rows: int, *, plain: bool) -> list[Text]:
    """Return `rows` lines, the current throw in them as large as there is room for.

    What the left hand throws is in the left half, what the right hand throws in the right one.
    """
    word = _word(glance)
    if word:
        room = [TURN * FEW_TURNS] if TURN in word else []
        lines = _large(word, [word, *room], columns - MARGIN, rows, plain=plain)
        return [Text(line.center(columns), "bold") for line in _amid(lines, rows)]
    half = columns // 2
    sides = _sides(glance.beat) if glance.beat else ("", "")
    beats = (glance.beat, *glance.coming) if glance.beat else ()
    shown = [side for beat in beats if beat.cycle is not None for side in _sides(beat) if side]
    labelled = rows > 1
    halves = []
    for (hand, style), characters in zip(HAND_STYLES.items(), sides, strict=True):
        lines = _large(characters, shown, half - MARGIN, rows - labelled, plain=plain)
        lines = [*_amid(lines, rows - labelled), *[hand] * labelled]
        halves.append([Text(line.center(half), style if characters else "dim") for line in lines])
    return [left + right for left, right in zip(*halves, strict=True)]


def coming_drawn(glance: Glance, columns: int, scale: int, *, plain: bool) -> list[Text]:
    """Return the next throws, drawn at a scale; no lines where the first cannot be.

    Where none comes the lines are empty, so that what stands above them keeps its place.
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
        for label, line in zip(_amid([NEXT], len(lines)), lines, strict=True)
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
    """Return what is shown large in place of throws, or nothing."""
    beat = glance.beat
    if glance.large or beat is None:
        return glance.large or READY
    if beat.part == COUNT_IN:
        return TURN * min(-beat.beat, MOST_TURNS)
    return CATCH if beat.part == RUN_OUT else ""


def _sides(beat: Beat) -> tuple[str, str]:
    return "".join(beat.throws.left), "".join(beat.throws.right)


def _large(text: str, room_for: list[str], columns: int, rows: int, *, plain: bool) -> list[str]:
    """Return `text` as large as `room_for` can be, or as it is where that is too large."""
    drawable = can_draw(text) and all(map(can_draw, room_for))
    scale = largest_scale(room_for, columns, rows, plain=plain) if drawable else 0
    if scale:
        return drawn(text, scale, plain=plain)
    return [text.replace(TURN, "* " if plain else f"{TURN} ").rstrip()[: max(columns, 1)]]


def _amid(lines: list[str], rows: int) -> list[str]:
    """Return `lines` with empty ones above and below to make `rows`."""
    above = max(0, rows - len(lines)) // 2
    return [*[""] * above, *lines, *[""] * max(0, rows - len(lines) - above)]


def _coming(glance: Glance) -> Iterator[str]:
    """Yield the throws of the coming beats in notation, and a bar where a cycle begins."""
    before = glance.beat
    for beat in filter(has_throws, glance.coming):
        is_long = before is not None and before.cycle_beat != 0
        if beat.cycle_beat == 0 and is_long and before is not None and before.cycle is not None:
            yield BAR
        yield notation(beat)
        before = beat
