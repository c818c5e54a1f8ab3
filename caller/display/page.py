"""A glance laid out on a terminal: what matters most is largest, and goes last where room is short.

Colour says nothing that place or words do not say too.
"""

from collections.abc import Iterable, Iterator
from typing import Final

from rich.text import Text

from caller.console.terminal import counted, length_told
from caller.display.glance import Glance, getting_ready, heights, how, title
from caller.display.glyphs import largest_scale, size
from caller.display.throws import coming_drawn, coming_written, current
from engine.timing.timeline import COUNT_IN, RUN_OUT

GAP: Final = "   "
DRAWN_ROWS: Final = (size("0", 2)[1] + 1, size("0", 1)[1] + 1)
"""Rows of large signs at the two smallest scales, the larger one first, with the hand below."""

BESIDE: Final = 3
"""Rows for what is told beside them, at least."""

COMING_SHARE: Final = 6
"""The throws that come are drawn if the current one can be twice as large, and take up to one
row in so many."""

ORDER: Final = (
    "where",
    "next",
    "when",
    "notice",
    "current",
    "coming",
    "heights",
    "marks",
    "legend",
)
"""From top to bottom."""


def page(glance: Glance, columns: int, rows: int, *, plain: bool) -> list[Text]:
    """Return the lines of a screen, `rows` of them, none longer than `columns`.

    `columns` and `rows` are the room there is. `plain` says whether only ASCII can be shown.
    """
    reserved = next((drawn for drawn in DRAWN_ROWS if drawn + BESIDE <= rows), 1)
    kept = _fitting(_by_importance(glance, columns), rows - reserved)
    left = rows - sum(map(len, kept.values()))
    if "coming" in kept:
        smallest = 2 if plain else 1
        scale = max(smallest, largest_scale(["0"], columns, rows // COMING_SHARE, plain=plain))
        drawn = coming_drawn(glance, columns, scale, plain=plain)
        if drawn and left + 1 - len(drawn) > size("0", 2 * scale)[1]:
            left += 1 - len(drawn)
            kept["coming"] = drawn
    kept["current"] = current(glance, columns, left, plain=plain)
    lines = [line for name in ORDER for line in kept.get(name, [])]
    for line in lines:
        line.truncate(columns)
    return lines


def _by_importance(glance: Glance, columns: int) -> Iterator[tuple[str, list[Text]]]:
    """Yield the parts of the page but for the current throw, the most important first."""
    if glance.notice:
        yield "notice", [Text(f" {glance.notice} ", "bold reverse")]
    yield "where", [_at_ends(_where(glance), _time_left(glance), columns)]
    if glance.following:
        yield "next", [Text(f"next: {glance.following}", "bold")]
    if glance.beat is not None or glance.coming:
        yield "coming", [coming_written(glance, columns)]
    yield "when", [_at_ends(_place_in_part(glance), _tempo(glance), columns)]
    yield "legend", list(_legend(glance, columns))
    if glance.clean is not None or glance.drops is not None:
        yield "marks", [Text(f"clean {glance.clean or 0}{GAP}drops {glance.drops or 0}")]
    told = GAP.join(f"{throw}: {metres:.2f} m" for throw, metres in heights(glance))
    if told:
        yield "heights", [Text(f"heights  {told}")]


def _fitting(parts: Iterable[tuple[str, list[Text]]], rows: int) -> dict[str, list[Text]]:
    kept = {}
    for name, lines in parts:
        if len(lines) <= rows:
            rows -= len(lines)
            kept[name] = lines
    return kept


def _at_ends(left: str, right: str, columns: int) -> Text:
    """Return a line with a text at either end, or with the left one alone where both do not fit."""
    room = columns - len(left) - len(right)
    return Text(f"{left}{' ' * room}{right}" if room > 0 else left, "bold")


def _where(glance: Glance) -> str:
    return GAP.join(filter(None, (title(glance), how(glance), glance.place)))


def _time_left(glance: Glance) -> str:
    return "" if glance.seconds_left is None else f"{length_told(glance.seconds_left)} left"


def _tempo(glance: Glance) -> str:
    now = glance.beat or next(iter(glance.coming), None)
    return "" if now is None else f"{now.tempo:.0f} a minute"


def _place_in_part(glance: Glance) -> str:
    """Return where in the part this is, in words."""
    if glance.seconds_to_throw is not None:
        return getting_ready(glance)
    beat = glance.beat
    if beat is None:
        return ""
    if beat.part == RUN_OUT:
        return "the last throws come down"
    if beat.cycle is None or beat.cycle_beat is None:
        return counted(-beat.beat, "beat") + " to go" if beat.part == COUNT_IN else ""
    of_all = "" if glance.cycles is None else f" of {glance.cycles}"
    return f"cycle {beat.cycle + 1}{of_all}, beat {beat.cycle_beat + 1}"


def _legend(glance: Glance, columns: int) -> Iterator[Text]:
    line = Text()
    for key, asked in glance.legend:
        entry = Text(key, "bold").append(f" {asked}", "dim")
        if line and len(line) + len(GAP) + len(entry) > columns:
            yield line
            line = Text()
        line = line + GAP + entry if line else entry
    if line:
        yield line
