"""The tempo map of a MIDI file: every beat of a timeline is a quarter note of it.

A MIDI file has whole microseconds a quarter note. A tempo is kept for as many quarter notes as it
brings near enough to their times, counted from the beginning of the file; so errors never add up,
and a steady tempo takes few events.
"""

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import chain, islice
from typing import Final

from engine.timing.timeline import Timeline

TICKS: Final = 960
"""Ticks a quarter note."""

USUAL: Final = 500_000
"""Microseconds a quarter note where nothing is said."""

SLACK: Final = 10.0
"""Microseconds by which a beat may be off: half a sample at 48 kHz, and less than a tick up to
1000 beats a minute, the quickest tempo that can be kept."""

MICROSECONDS: Final = 1e6

LENGTHS: Final = (1, 2**24 - 1)
"""Of the shortest and longest quarter note, in microseconds."""


@dataclass(frozen=True, slots=True)
class Tempo:
    """A tempo from a quarter note on."""

    quarter: int
    """The number of that quarter note, from zero."""
    start: int
    """When that quarter note begins, in microseconds."""
    length: int
    """Length of each quarter note from there on, in microseconds."""


@dataclass(frozen=True, slots=True)
class MidiClock:
    """Where moments fall in a MIDI file."""

    tempos: tuple[Tempo, ...]
    """The tempos in order, at least one, the first at quarter note 0."""
    lead_in: int
    """Quarter notes before the first beat of the timeline."""
    end: int = 0
    """The tick with which all is over."""

    def tick_at(self, seconds: float) -> int:
        """Return the tick nearest to a moment, in seconds from the first sample."""
        moment = seconds * MICROSECONDS
        index = bisect_right(self.tempos, moment, key=lambda tempo: tempo.start) - 1
        tempo = self.tempos[max(index, 0)]
        return tempo.quarter * TICKS + round((moment - tempo.start) * TICKS / tempo.length)


def midi_clock(timeline: Timeline) -> MidiClock:
    """Return the clock of a timeline that ends.

    The time before its first beat is divided into quarter notes of about a beat each.
    """
    beats = iter(timeline)
    first = next(beats)
    lead_in = max(1, round(first.time * first.tempo / 60)) if first.time > 0 else 0
    before = (first.time * quarter / lead_in for quarter in range(lead_in))
    times = chain(before, [first.time], (beat.time for beat in beats))
    clock = MidiClock(tuple(tempos(times)), lead_in)
    return replace(clock, end=clock.tick_at(timeline.seconds or 0.0))


def tempos(times: Iterable[float]) -> Iterator[Tempo]:
    """Yield the tempos that bring every quarter note within `SLACK` of its time.

    Parameters
    ----------
    times
        Of the quarter notes, in seconds; the first is 0, and each is later than the one before,
        by less than the 16.7 s of the longest quarter note.
    """
    quarter = start = count = 0
    shortest, longest, best = *LENGTHS, USUAL
    for time in islice(times, 1, None):
        since = time * MICROSECONDS - start
        low, high = _lengths(since, count + 1)
        if max(low, shortest) > min(high, longest):
            yield Tempo(quarter, start, best)
            quarter += count
            start += count * best
            since -= count * best
            count, (shortest, longest), (low, high) = 0, LENGTHS, _lengths(since, 1)
        count += 1
        shortest, longest = max(low, shortest), min(high, longest)
        best = min(max(round(since / count), shortest), longest)
    yield Tempo(quarter, start, best)


def _lengths(since: float, count: int) -> tuple[int, int]:
    """Return the shortest and longest quarter notes of which `count` take about `since`."""
    return math.ceil((since - SLACK) / count), math.floor((since + SLACK) / count)
