"""A stretch of a practice that is played without a stop, and what is heard in it."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from engine.catching.expected import Catch, expected_catches
from engine.catching.report import TakeReport, listen_report
from engine.catching.watch import USUAL_LEAD, DropWatch
from engine.timing.timeline import Beat
from sounds.listening.onsets.thuds import Thud
from sounds.playing.passage import ScheduledRun
from sounds.voices.voice import Voice

BEFORE: Final = 1.0
"""Seconds before a stretch from which on thuds are heard, for clocks that are told wrongly."""

AFTER: Final = 0.5
"""Seconds after its end until which its last catch may be heard."""


class HeardRun:
    """All times are in seconds of the deck's clock.

    `place` says where in the practice that is, in words; empty where it has one part. `dwell` is
    the share of the time that a hand holds an object. `lead` is the asynchrony that is usual, in
    seconds.

    Attributes
    ----------
    end
        When it was over, or was stopped; None while it goes on.
    watch
        Looks for drops in it.
    """

    def __init__(
        self,
        scheduled: ScheduledRun,
        place: str,
        voice: Voice,
        dwell: float,
        lead: float = USUAL_LEAD,
    ) -> None:
        self.place = place
        self.end: float | None = None
        self._scheduled: list[tuple[ScheduledRun, int | None]] = [(scheduled, None)]
        self._voice = voice
        self._dwell = dwell
        self._thuds: list[Thud] = []
        self.watch = DropWatch(self.catches(), lead)

    @property
    def scheduled(self) -> ScheduledRun:
        """What is played now."""
        return self._scheduled[-1][0]

    @property
    def start(self) -> float:
        """When it began."""
        return self._scheduled[0][0].start

    def change(self, scheduled: ScheduledRun, since: int) -> None:
        """Go over to another run, as at another tempo, from one of its beats on."""
        self._scheduled.append((scheduled, since))

    def beats(self) -> Iterator[Beat]:
        """Yield the beats as they were played, or will be as far as is known."""
        last = None
        for index, (scheduled, since) in enumerate(self._scheduled):
            begun = since if last is None else last + 1
            for beat in scheduled.timeline(self._voice, begun).beats():
                following = self._scheduled[index + 1 : index + 2]
                if following and beat.beat >= (following[0][1] or 0):
                    break
                time = scheduled.start + beat.time
                if self.end is not None and time > self.end:
                    return
                last = beat.beat
                yield replace(beat, time=time)

    def catches(self) -> Iterator[Catch]:
        """Yield the catches of all that was thrown, and fell due before the end."""
        for catch in expected_catches(self.beats(), self._dwell):
            if self.end is not None and catch.time > self.end:
                return
            yield catch

    def hear(self, thuds: list[Thud]) -> None:
        """Take in thuds, in order of time."""
        until = float("inf") if self.end is None else self.end + AFTER
        near = [thud for thud in thuds if self.start - BEFORE <= thud.time <= until]
        self._thuds += near
        self.watch.hear(near)

    def report(self, catches: Sequence[Catch]) -> TakeReport:
        """Return what was heard of all its `catches`, when it is over."""
        start = self.start - BEFORE
        thuds = [replace(thud, time=thud.time - start) for thud in self._thuds]
        due = [replace(catch, time=catch.time - start) for catch in catches]
        seconds = (self.end or self.start) + AFTER - start
        return listen_report(thuds, seconds, due, placed=True)
