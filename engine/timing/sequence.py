"""Timelines one after another, as sets in a practice."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate

from engine.errors import RunError
from engine.timing.timeline import Beat, Cue, Timeline


def in_turn(timelines: Sequence[Timeline]) -> Timeline:
    """Return one timeline that plays `timelines` in turn; each starts where the last one ended.

    Raises
    ------
    RunError
        If a timeline that is not the last never ends.
    """
    lengths = [timeline.seconds for timeline in timelines]
    ended = [Fraction(length) for length in lengths[:-1] if length is not None]
    if len(ended) < len(timelines) - 1:
        raise RunError("A set that never ends cannot be followed by another.")
    starts = [float(start) for start in accumulate(ended, initial=Fraction(0))]
    placed = list(zip(starts, timelines, strict=True))
    return Timeline(
        beats=lambda: (_later_beat(beat, start) for start, timeline in placed for beat in timeline),
        cues=tuple(_later_cues(placed)),
        seconds=None if lengths[-1] is None else starts[-1] + lengths[-1],
        words=frozenset().union(*(timeline.words for timeline in timelines)),
    )


def _later_beat(beat: Beat, seconds: float) -> Beat:
    call_time = None if beat.call_time is None else beat.call_time + seconds
    return replace(beat, time=beat.time + seconds, call_time=call_time)


def _later_cues(placed: list[tuple[float, Timeline]]) -> Iterator[Cue]:
    for start, timeline in placed:
        for cue in timeline.cues:
            yield replace(cue, time=cue.time + start)
