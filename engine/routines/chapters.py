"""The chapters of a piece: what comes when, for whoever reads a file and does not hear it."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from engine.timing.clock import clock_of
from engine.timing.run import Part, Rest, Run
from engine.timing.scheduler import seconds_of

ChapterKind: TypeAlias = Literal["ready", "part", "bridge", "rest", "run-out"]

READY: Final = "getting ready"
CAUGHT: Final = "the last catches"


@dataclass(frozen=True, slots=True)
class Chapter:
    """A stretch of a piece with a name."""

    start: float
    """When it begins, in seconds from the first sample."""
    end: float
    """When it ends, in seconds from the first sample: where the next chapter starts."""
    title: str
    """What it is called."""
    kind: ChapterKind = "part"
    """Filling the hands and the count-in, a pattern, the throws between two, a stop, or the catches
    after the last throw."""


def chapters_of(run: Run) -> Iterator[Chapter]:
    """Yield the chapters of a run that ends, from the first sample to the last."""
    clock = clock_of(run)
    beat, start = 0, clock.time_at(0)
    yield Chapter(0.0, start, READY, "ready")
    for part in run.parts:
        beat += part.beats or 0
        end = clock.time_at(beat)
        yield Chapter(start, end, part.title, _kind(part))
        start = end
    seconds = seconds_of(run) or 0.0
    if start < seconds:
        yield Chapter(start, seconds, CAUGHT, "run-out")


def _kind(part: Part | Rest) -> ChapterKind:
    if isinstance(part, Rest):
        return "rest"
    return "bridge" if part.leads else "part"
