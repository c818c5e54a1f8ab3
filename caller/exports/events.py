"""A timeline as JSON for other programs to follow, and its beats in bars.

A bar is as a rule one cycle of the pattern. Captions and MIDI files are written bar by bar.
"""

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, dataclass
from typing import Any, Final, TypeAlias

from throwcount.engine.timing.timeline import Beat, Timeline
from throwcount.sounds.mixing.words import spoken_besides
from throwcount.sounds.voices.voice import Voice

PartIndex: TypeAlias = Callable[[int], int | None]
"""Returns which part a beat is in, from zero; None before the first part and after the last."""


def event_lines(timeline: Timeline, voice: Voice, part_index: PartIndex) -> Iterator[str]:
    """Yield a timeline that ends as one JSON document in pieces, one beat a line.

    `voice` is the one that speaks in its audio, at the same sample rate.
    """
    yield f'{{"sample_rate": {voice.rate}, "seconds": {json.dumps(timeline.seconds)}, "beats": ['
    yield from _rows(_beat(beat, part_index(beat.beat)) for beat in timeline)
    yield '\n], "said": ['
    yield from _rows(asdict(spoken) for spoken in spoken_besides(timeline, voice))
    yield "\n]}\n"


def _rows(objects: Iterable[dict[str, Any]]) -> Iterator[str]:
    separator = "\n"
    for each in objects:
        yield separator + json.dumps(each)
        separator = ",\n"


def _beat(beat: Beat, part_index: int | None) -> dict[str, Any]:
    return {
        "beat": beat.beat,
        "time": beat.time,
        "tempo": beat.tempo,
        "part": beat.part,
        "part_index": part_index,
        "cycle": beat.cycle,
        "cycle_beat": beat.cycle_beat,
        "throws": beat.throws._asdict(),
        "objects": beat.objects._asdict(),
        "manners": beat.manners._asdict(),
        "click": None if beat.click is None else beat.click.hands,
        "accent": beat.click is not None and beat.click.accent,
        "call": beat.call,
        "call_time": beat.call_time,
        "pick_up": beat.pick_up._asdict(),
        "put_down": beat.put_down._asdict(),
        "hurried": beat.hurried,
    }


LONGEST_BAR: Final = 16
"""Beats; a longer cycle is cut into bars of about equal length."""

BAR_WITHOUT_THROWS: Final = 4
"""Beats in a bar of a count-in, a rest or a run-out, where nothing is thrown."""


@dataclass(frozen=True, slots=True)
class Bar:
    """Some beats in a row. Times are in seconds."""

    beats: tuple[Beat, ...]
    """At least one beat, all of one part, and of one cycle where something is thrown."""
    end: float
    """When the next bar begins, or the timeline ends."""

    @property
    def start(self) -> float:
        """When it begins."""
        return self.beats[0].time


def bars(timeline: Timeline) -> Iterator[Bar]:
    """Yield the bars of a timeline that ends; at most one cycle is kept in memory."""
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
    return len(row) == BAR_WITHOUT_THROWS if beat.cycle is None else beat.cycle_beat == 0


def _pieces(row: list[Beat]) -> Iterator[tuple[Beat, ...]]:
    """Cut a cycle that is too long into bars, of even numbers of beats so that no pair is cut."""
    count = -(-len(row) // LONGEST_BAR) or 1
    size = -(-len(row) // count)
    size += size % 2 if count > 1 else 0
    for at in range(0, len(row), size or 1):
        yield tuple(row[at : at + size])
