"""Changing the tempo of a run that is under way, on a beat and without losing the count."""

import math
from dataclasses import dataclass, replace

from engine.timing.clock import clock_of
from engine.timing.run import Run
from engine.timing.scheduler import last_beat
from engine.timing.tempo import steady

NEARLY: float = 1e-9
"""Beats by which a time may miss a beat and still be taken for it."""


@dataclass(frozen=True, slots=True)
class Nudge:
    """A run that goes on at another tempo from one of its beats."""

    run: Run
    """As before but for its tempo, which is steady from `pivot` on."""
    pivot: int
    """The beat that keeps its place."""
    later: float
    """Seconds by which the start of the run moves so that it does; 0 from the second throw on,
    where every beat before the pivot keeps its place too, to the last bit."""


def first_beat_from(run: Run, seconds: float) -> int | None:
    """Return the first beat at or after a time in seconds, None if there is none.

    Beats of the count-in are negative; those of the run-out count.
    """
    beat = max(math.ceil(clock_of(run).beat_at(seconds) - NEARLY), -run.count_in)
    last = last_beat(run)
    return beat if last is None or beat <= last else None


def nudged(run: Run, pivot: int, tempo: float) -> Nudge:
    """Return `run` at another tempo from beat `pivot` on, in beats a minute.

    Cycles, hands, objects and accents go on as they were. A single part keeps that tempo; several
    keep their proportions.

    Raises
    ------
    TempoError
        If the tempo cannot be kept.
    """
    after = steady(tempo)
    if len(run.parts) > 1:
        after = run.tempo.since(max(pivot, 0)).scaled(tempo / run.tempo.tempo_at(pivot))
    if pivot > 0:
        return Nudge(replace(run, tempo=run.tempo.until(pivot) + after), pivot, 0.0)
    changed = replace(run, tempo=after)
    later = clock_of(run).time_at(pivot) - clock_of(changed).time_at(pivot)
    return Nudge(changed, pivot, later)
