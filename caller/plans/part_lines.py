"""A line a part, with the throws that lead to it, and the lines as comma-separated values.

The format is that of RFC 4180 (2005).
"""

import csv
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from io import StringIO
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from throwcount.engine.patterns.flight import Room
    from throwcount.engine.patterns.pattern import Hand, Throw
    from throwcount.engine.routines.running_order import Entry
    from throwcount.engine.scheduling.cues import CueCall

DIGITS: Final = 3
"""Decimals of numbers: milliseconds, millimetres."""


@dataclass(frozen=True, slots=True)
class PartLine:
    """What one line says: a pattern or a rest, and how it is come to."""

    entry: "Entry"
    """The pattern or the rest."""
    bridge: "Entry | None"
    """The throws that lead to it; None if there are none."""
    place: str
    """Where it is in the file, such as "3", or "3.2" within a repeat."""
    room: "Room"
    """Where it is thrown."""

    @property
    def entries(self) -> tuple["Entry", ...]:
        """Its one or two rows of the running order, in order."""
        return (self.entry,) if self.bridge is None else (self.bridge, self.entry)

    @property
    def cue(self) -> "CueCall | None":
        """Its announcement; None if it has none."""
        return self.entries[0].cue

    @property
    def change(self) -> int:
        """Objects taken up (more than 0) or put down (less than 0) on the way into it."""
        return self.entries[0].change

    @property
    def highest(self) -> "tuple[Throw, float] | None":
        """The highest throw, also on the way into it, and its metres above the floor."""
        from throwcount.caller.plans.page import highest

        rising = [found for each in self.entries if (found := highest(each, self.room))]
        return max(rising, key=lambda found: found[1], default=None)

    def held(self, hand: "Hand") -> int | None:
        """Return how many objects a hand is loaded with; None if it is not loaded for this part."""
        return None if self.entry.held is None else self.entry.held[hand]


def part_lines(
    entries: Sequence["Entry"], places: Sequence[str], room: "Room"
) -> Iterator[PartLine]:
    """Yield the line of each part; `places` are where the parts are in the file."""
    bridge = None
    for entry in entries:
        if entry.kind == "bridge":
            bridge = entry
            continue
        yield PartLine(entry, bridge, places[entry.number - 1], room)
        bridge = None


def _clock(line: PartLine) -> str:
    from throwcount.caller.terminal.printing import length_text

    return length_text(line.entry.time)


COLUMNS: Final[dict[str, tuple[str, Callable[[PartLine], Any]]]] = {
    "part": ("its number, from 1", lambda line: line.entry.number),
    "place": ("in the file, such as 3.2 within a repeat", lambda line: line.place),
    "kind": ("part or rest", lambda line: line.entry.kind),
    "clock": ("when it begins: minutes and seconds of the sound", _clock),
    "time": ("the same, in seconds", lambda line: line.entry.time),
    "seconds": ("its length", lambda line: line.entry.seconds),
    "beats": ("its length", lambda line: line.entry.beats),
    "bar": ("of the music, from 1; empty without", lambda line: line.entry.bar),
    "title": ("", lambda line: line.entry.title),
    "pattern": ("empty for a rest", lambda line: line.entry.text),
    "how": ("the throws are made", lambda line: line.entry.how),
    "bridge": ("the throws that lead to it", lambda line: line.bridge and line.bridge.text),
    "bridge_how": ("a hand waits or hurries in them", lambda line: line.bridge and line.bridge.how),
    "bridge_time": ("when they begin", lambda line: line.bridge and line.bridge.time),
    "objects": ("in play", lambda line: line.entry.objects),
    "change": ("objects taken up, or put down", lambda line: line.change or None),
    "left": ("objects to load this hand with", lambda line: line.held("left")),
    "right": ("the same", lambda line: line.held("right")),
    "tempo": ("beats a minute as it begins", lambda line: line.entry.tempo),
    "to": ("beats a minute at its end", lambda line: line.entry.to),
    "throw": ("the highest, also of the bridge", lambda line: line.highest and line.highest[0]),
    "floor_m": ("how high it rises, in metres", lambda line: line.highest and line.highest[1]),
    "cue": ("what is said before", lambda line: line.cue and line.cue.text),
    "cue_time": ("when; empty if it is not said", lambda line: _said_at(line.cue)),
}
"""The columns: what is in each, and how to get it from a line."""


def _said_at(cue: "CueCall | None") -> float | None:
    return cue.time if cue is not None and cue.said else None


def spreadsheet(lines: Iterator[PartLine]) -> Iterator[str]:
    """Yield the line of headings and a line for each part, which end as RFC 4180 has it."""
    line = StringIO(newline="")
    writer = csv.writer(line)
    writer.writerow(COLUMNS)
    for each in lines:
        yield line.getvalue()
        line.seek(0)
        line.truncate()
        writer.writerow(_rounded(value(each)) for _, value in COLUMNS.values())
    yield line.getvalue()


def _rounded(value: object) -> object:
    return round(value, DIGITS) if isinstance(value, float) else value
