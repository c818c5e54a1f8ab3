"""The time of each beat of a run, in seconds from the first sample."""

from dataclasses import dataclass
from typing import Final

from engine.timing.run import Run

SHORTEST_LEAD_IN: Final = 0.25
"""Seconds before the first beat: a word begins before the beat that its centre falls on."""

PAUSE_AFTER_ANNOUNCEMENT: Final = 0.5


@dataclass(frozen=True, slots=True)
class Clock:
    """The time of each beat, in seconds from the first sample."""

    run: Run
    first_throw: float

    def time_at(self, beat: int) -> float:
        """Return the time of `beat`; beat 0 is the first throw."""
        return self.first_throw + self.run.tempo.time_at(beat)

    def beat_at(self, seconds: float) -> float:
        """Return the beat at a time: `time_at`, inverted."""
        return self.run.tempo.beat_at(seconds - self.first_throw)


def clock_of(run: Run) -> Clock:
    """Return when each beat of a run falls."""
    announced = run.announcement_seconds + PAUSE_AFTER_ANNOUNCEMENT if run.announcement else 0.0
    counted = -run.tempo.time_at(-run.count_in)
    return Clock(run, max(run.ready + announced, SHORTEST_LEAD_IN) + counted)
