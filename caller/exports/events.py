"""A timeline as JSON, beat by beat, so that other programs can follow it.

The beats of a timeline in bars: as a rule a cycle of the pattern each.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from throwcount.engine.timing.timeline import Beat, ByHand, Timeline


def event_lines(timeline: Timeline, rate: int) -> Iterator[str]:
    """Yield one JSON document in pieces, a beat a line, however long the timeline.

    The timeline is one that ends. `rate` is the sample rate in Hz of the audio that goes with it.
    """
    yield f'{{"sample_rate": {rate}, "seconds": {json.dumps(timeline.seconds)}, "beats": ['
    separator = "\n"
    for beat in timeline:
        yield separator + json.dumps(beat_document(beat))
        separator = ",\n"
    yield "\n]}\n"


def beat_document(beat: Beat) -> dict[str, Any]:
    """Return a beat as the JSON object that stands for it."""
    return {
        "beat": beat.beat,
        "time": beat.time,
        "tempo": beat.tempo,
        "part": beat.part,
        "cycle": beat.cycle,
        "cycle_beat": beat.cycle_beat,
        "throws": _by_hand(beat.throws),
        "objects": _by_hand(beat.objects),
        "click": None if beat.click is None else beat.click.hands,
        "accent": beat.click is not None and beat.click.accent,
        "call": beat.call,
        "call_time": beat.call_time,
    }


def _by_hand(names: ByHand) -> dict[str, list[str]]:
    return {"right": list(names.right), "left": list(names.left)}


LONGEST_BAR: Final = 16
"""Beats; a longer cycle is cut into bars of about the same length."""

BESIDES: Final = 4
"""Beats in a bar where nothing is thrown: of a count-in, a rest, a run-out."""


@dataclass(frozen=True, slots=True)
class Bar:
    """Some beats in a row."""

    beats: tuple[Beat, ...]
    """At least one beat, all of one part, and of one cycle where something is thrown."""
    end: float
    """When the next bar begins, or all is over, in seconds."""

    @property
    def start(self) -> float:
        """When it begins, in seconds."""
        return self.beats[0].time


def bars(timeline: Timeline) -> Iterator[Bar]:
    """Yield the bars of a timeline that ends; no more than a cycle is kept in memory."""
    cut = _cut(timeline)
    before = next(cut, None)
    if before is None:
        return
    for beats in cut:
        yield Bar(before, beats[0].time)
        before = beats
    yield Bar(before, max(before[-1].time, timeline.seconds or 0.0))


def _cut(timeline: Timeline) -> Iterator[tuple[Beat, ...]]:
    row: list[Beat] = []
    for beat in timeline:
        if row and _opens(beat, row):
            yield from _pieces(row)
            row = []
        row.append(beat)
    yield from _pieces(row)


def _opens(beat: Beat, row: list[Beat]) -> bool:
    """Return whether a beat opens a bar after those of `row`."""
    before = row[-1]
    if beat.part != before.part or (beat.cycle is None) != (before.cycle is None):
        return True
    return len(row) == BESIDES if beat.cycle is None else beat.cycle_beat == 0


def _pieces(row: list[Beat]) -> Iterator[tuple[Beat, ...]]:
    """Cut the beats of a cycle that is too long; in even numbers, so that no pair is cut."""
    count = -(-len(row) // LONGEST_BAR) or 1
    size = -(-len(row) // count)
    size += size % 2 if count > 1 else 0
    for at in range(0, len(row), size or 1):
        yield tuple(row[at : at + size])
