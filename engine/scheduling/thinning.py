"""Calling less often where the voice has no pace for a call on every beat.

There is one call every k beats, counted from the start of each cycle, with the smallest k that
fits. If not even one call a cycle fits, there is one call every few cycles. The final "stop" always
stays.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from typing import TypeAlias

from throwcount.engine.scheduling.calls import STOP
from throwcount.engine.timing.timeline import Beat, Timeline

WordSeconds: TypeAlias = Callable[[str], float]
"""Returns how many seconds the quickest way of saying a text takes."""


@dataclass(frozen=True, slots=True)
class Spacing:
    """How often calls are made in a cycle."""

    beat: Beat
    """The first beat of the cycle."""
    every: int
    """Beats from one call to the next; more than a cycle where calls are that rare."""


def thin(timeline: Timeline, word_seconds: WordSeconds) -> Timeline:
    """Return `timeline` with only those calls that can be said before the next one."""
    return replace(timeline, beats=lambda: _thinned(timeline, word_seconds))


def spacings(timeline: Timeline, word_seconds: WordSeconds) -> Iterator[Spacing]:
    """Yield the spacing of the calls in each cycle."""
    for cycle, following in _cycles(timeline):
        if cycle[0].cycle is not None:
            yield Spacing(cycle[0], smallest_spacing(cycle, following, word_seconds))


def smallest_spacing(cycle: list[Beat], following: float | None, word_seconds: WordSeconds) -> int:
    """Return the smallest k for which one call every k beats of `cycle` fits.

    `cycle` holds the beats of one cycle. `following` is the time of the beat after it, in seconds;
    None if nothing follows.
    """
    length = len(cycle)
    for every in range(1, length):
        kept = [beat for beat in cycle[::every] if beat.call is not None]
        if _fits(kept, following, word_seconds):
            return every
    opening = cycle[0]
    if opening.call is None or following is None:
        return length
    lasts = following - opening.time
    cycles = max(1, -int(-word_seconds(opening.call) // lasts))
    return cycles * length


def _fits(kept: list[Beat], following: float | None, word_seconds: WordSeconds) -> bool:
    times = [beat.time for beat in kept]
    if following is not None:
        times.append(following)
    gaps = (later - earlier for earlier, later in pairwise(times))
    # If nothing follows, the last call has no gap to fit into.
    return all(word_seconds(beat.call or "") <= gap for beat, gap in zip(kept, gaps, strict=False))


def _thinned(timeline: Timeline, word_seconds: WordSeconds) -> Iterator[Beat]:
    for cycle, following in _cycles(timeline):
        if cycle[0].cycle is None:
            yield from cycle
            continue
        every = smallest_spacing(cycle, following, word_seconds)
        for index, beat in enumerate(cycle):
            position = cycle[0].cycle * len(cycle) + index if every > len(cycle) else index
            kept = position % every == 0 or beat.call in (None, STOP)
            yield beat if kept else beat._replace(call=None, call_time=None)


def _cycle_start(beat: Beat) -> int | str:
    return beat.part if beat.cycle_beat is None else beat.beat - beat.cycle_beat


def _cycles(timeline: Timeline) -> Iterator[tuple[list[Beat], float | None]]:
    """Yield the beats of each cycle, with the time of the beat after it."""
    waiting: list[Beat] = []
    for _, group in groupby(timeline, key=_cycle_start):
        cycle = list(group)
        if waiting:
            yield waiting, cycle[0].time
        waiting = cycle
    if waiting:
        yield waiting, None
