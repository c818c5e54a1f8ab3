"""`plan --sheet`: the running order on paper, for whoever runs the light and the sound.

One self-contained HTML file without scripts, made for A4 in black and white (CSS Paged Media Module
Level 3). All that comes from outside is escaped, in the one style sheet too.
"""

from collections.abc import Iterable, Iterator, Sequence
from importlib.resources import files
from typing import Final

from throwcount.caller.exports.page import PLACEHOLDER, as_html
from throwcount.caller.plans.page import (
    TOO_HIGH,
    height_text,
    heights_text,
    objects_text,
    tempo_text,
)
from throwcount.caller.plans.part_lines import PartLine, part_lines
from throwcount.caller.routine_file.reading import RoutineFile
from throwcount.caller.terminal.printing import length_text, shortened
from throwcount.engine.patterns.flight import Room
from throwcount.engine.patterns.pattern import Hand
from throwcount.engine.routines.running_order import RunningOrder

HEADINGS: Final = {
    "part": "part",
    "at": "clock",
    "bar": "bar",
    "pattern": "pattern",
    "objects": "objects",
    "left": "left",
    "right": "right",
    "tempo": "tempo",
    "height": "height (m)",
    "cue": "cue words",
    "notes": "light, sound",
}
"""The columns, by their classes in the style sheet; the last is left empty for a pencil."""

CLOCK_TOLD: Final = "The clock starts with the sound, and a part with its first throw."
LONGEST: Final = 100
LONGEST_HOW: Final = 200
"""Characters of a name or a pattern, and of how it is thrown: a row of the longest ones stays
shorter than a page."""


def sheet(
    file: RoutineFile, order: RunningOrder, room: Room, percent: float | None
) -> Iterator[str]:
    """Yield the sheet in pieces, in ASCII; `percent` is the share of the tempo that was asked for.

    Heights are above the floor, and those of the highest throw at the slowest tempo.
    """
    with_bars = any(entry.bar is not None for entry in order.entries)
    columns = [name for name in HEADINGS if with_bars or name != "bar"]
    lines = list(part_lines(order.entries, file.places, room))
    texts: dict[str, Iterable[str]] = {
        "title": [as_html(order.title)],
        "title_in_css": [css_text(shortened(order.title, LONGEST))],
        "facts": [as_html(" · ".join(_facts(file, order, percent)))],
        "headings": [f'<th scope="col" class="{name}">{HEADINGS[name]}</th>' for name in columns],
        "rows": (_row(line, columns) for line in lines),
        "remarks": [as_html(" ".join(_remarks(lines, order, room)))],
    }
    template = files("throwcount.caller.plans").joinpath("sheet.html").read_text("utf-8")
    for index, piece in enumerate(PLACEHOLDER.split(template)):
        yield from texts[piece] if index % 2 else [piece]


def css_text(text: str) -> str:
    """Return a text for a string in CSS, with every character escaped (CSS Syntax Level 3, 4.3.7).

    Nothing in it can end the string, or the style sheet around it.
    """
    return "".join(f"\\{ord(character):06x}" for character in text)


def _facts(file: RoutineFile, order: RunningOrder, percent: float | None) -> Iterator[str]:
    yield f"{length_text(order.seconds)} long"
    if percent is not None:
        yield f"at {percent:g} % of its tempo"
    if file.props:
        yield file.props
    if file.music is not None:
        yield f"music: {file.music.path.name}"


def _remarks(lines: Sequence[PartLine], order: RunningOrder, room: Room) -> Iterator[str]:
    last = order.entries[-1]
    yield f"The last part is over at {length_text(last.time + last.seconds)}."
    yield CLOCK_TOLD
    yield heights_text(room)
    if any(TOO_HIGH in _height(line) for line in lines):
        yield f"{TOO_HIGH} stands where a throw reaches the ceiling."


def _row(line: PartLine, columns: Sequence[str]) -> str:
    entry = line.entry
    texts = {
        "part": str(entry.number),
        "at": length_text(entry.time),
        "bar": "" if entry.bar is None else f"{round(entry.bar, 1):g}",
        "objects": objects_text(line.entries[0]),
        "left": _held(line, "left"),
        "right": _held(line, "right"),
        "tempo": tempo_text(entry),
        "height": _height(line),
        "cue": _cue(line),
        "notes": "",
    }
    cells = [
        _cell(name, _pattern(line) if name == "pattern" else [texts[name]]) for name in columns
    ]
    return f'<tr class="{entry.kind}">{"".join(cells)}</tr>\n'


def _cell(name: str, texts: Iterable[str]) -> str:
    """Return a cell with a line for each text; `name` is that of its column."""
    inner = "".join(f'<span dir="auto">{as_html(text)}</span>' for text in texts)
    return f'<td class="{name}">{inner}</td>'


def _pattern(line: PartLine) -> Iterator[str]:
    """Yield what is thrown, and on a line of its own what leads to it and when."""
    entry, bridge = line.entry, line.bridge
    title, pattern = shortened(entry.title, LONGEST), shortened(entry.text, LONGEST)
    how = shortened(entry.how, LONGEST_HOW)
    if entry.kind == "rest":
        yield f"{title} (rest)" if title != "rest" else title
    else:
        named = pattern if title == pattern else f"{title}: {pattern}"
        yield f"{named}, {how}" if how else named
    if bridge is not None:
        how = f", {bridge.how}" if bridge.how else ""
        yield f"bridge {shortened(bridge.text, LONGEST)}{how}, at {length_text(bridge.time)}"


def _held(line: PartLine, hand: Hand) -> str:
    held = line.held(hand)
    return "" if held is None else str(held)


def _height(line: PartLine) -> str:
    return "" if line.highest is None else height_text(*line.highest, line.room)


def _cue(line: PartLine) -> str:
    if line.cue is None:
        return ""
    return f"{length_text(line.cue.time) if line.cue.said else 'not said:'} {line.cue.text}"
