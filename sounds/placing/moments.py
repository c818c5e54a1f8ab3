"""The score events of a timeline, beats and cues in one row, and a look at the ones that follow."""

import heapq
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from engine.timing.timeline import Beat, Click, Cue, Timeline
from sounds.voices.clip import Samples
from sounds.voices.cue_voice import said_at

REACH = 30.0
"""Seconds of look-ahead. Bounded, so that an endless timeline needs no more memory than a short
one, nor an endless search for a next word that never comes."""


def frame_at(seconds: float, rate: int) -> int:
    """Return the frame nearest to a moment; the only place where seconds become frames."""
    return round(seconds * rate)


@dataclass(slots=True, eq=False)
class PlacedWord:
    """A word at its place."""

    start: int
    """The frame of its first sample."""
    samples: Samples
    """Float32, shape (frames, 2)."""
    peak: float
    """Its true peak, linear."""
    stop: int | None = None
    """The frame by which it has faded because the next word starts; None where it ends
    by itself."""

    @property
    def end(self) -> int:
        """The frame where it is over."""
        whole = self.start + len(self.samples)
        return whole if self.stop is None else min(self.stop, whole)


@dataclass(slots=True, eq=False)
class ScoreEvent:
    """A beat, or a cue; what is not known at first is filled in on its way to the mixer."""

    time: float
    """When it is, in seconds; the click falls on it, and moments are in its order."""
    click: Click | None = None
    """What clicks; None for nothing."""
    text: str | None = None
    """What is said, as a voice is asked for it; None for nothing."""
    heard: float | None = None
    """Where the perceptual centre of what is said falls, in seconds; None where it just starts
    at `time`."""
    room: float | None = None
    """Seconds within which it is over; None where it takes the time it takes, or has to make way
    for the next word."""
    word: PlacedWord | None = None
    """What is said, once it has its place."""
    coming: int | None = None
    """The frame where the next word of a later moment starts; None if none is near."""

    @property
    def spoken_at(self) -> float:
        """The time that what is said belongs to, in seconds."""
        return self.time if self.heard is None else self.heard


def score_events(timeline: Timeline) -> Iterator[ScoreEvent]:
    """Yield the beats and cues of a timeline in order of time."""
    beats = map(_of_beat, timeline)
    cues = map(_of_cue, timeline.cues)
    return heapq.merge(beats, cues, key=lambda moment: moment.time)


def _of_beat(beat: Beat) -> ScoreEvent:
    return ScoreEvent(beat.time, beat.click, beat.call, beat.call_time)


def _of_cue(cue: Cue) -> ScoreEvent:
    room = cue.seconds if cue.change is not None and cue.seconds else None
    return ScoreEvent(cue.time, text=said_at(cue), room=room)


def with_next(
    row: Iterable[ScoreEvent], wanted: Callable[[ScoreEvent], bool]
) -> Iterator[tuple[ScoreEvent, ScoreEvent | None]]:
    """Pair each moment with the next wanted one after it, or None if there is none in `REACH`."""
    waiting: deque[ScoreEvent] = deque()
    for moment in row:
        if wanted(moment):
            while waiting:
                yield waiting.popleft(), moment
        while waiting and moment.time - waiting[0].time > REACH:
            yield waiting.popleft(), None
        waiting.append(moment)
    for moment in waiting:
        yield moment, None
