"""The moments of a timeline, beats and cues in one row, and a look at the ones that follow."""

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
class Word:
    """A word at its place.

    Parameters
    ----------
    start
        The frame of its first sample.
    samples
        Float32, shape (frames, 2).
    peak
        Its true peak, linear.
    stop
        The frame by which it has faded because the next word starts; None where it ends by
        itself.
    """

    start: int
    samples: Samples
    peak: float
    stop: int | None = None

    @property
    def end(self) -> int:
        """The frame where it is over."""
        whole = self.start + len(self.samples)
        return whole if self.stop is None else min(self.stop, whole)


@dataclass(slots=True, eq=False)
class Moment:
    """A beat, or a cue; what is not known at first is filled in on its way to the mixer.

    Parameters
    ----------
    time
        In seconds; the click falls on it, and moments are in its order.
    click, text
        What clicks and what is said, as a voice is asked for it; None for nothing.
    heard
        Where the perceptual centre of what is said falls, in seconds; None where it just starts
        at `time`.
    room
        Seconds within which it is over; None where it takes the time it takes, or has to make
        way for the next word.
    word
        What is said, once it has its place.
    coming
        The frame where the next word of a later moment starts; None if none is near.
    """

    time: float
    click: Click | None = None
    text: str | None = None
    heard: float | None = None
    room: float | None = None
    word: Word | None = None
    coming: int | None = None

    @property
    def spoken_at(self) -> float:
        """The time that what is said belongs to, in seconds."""
        return self.time if self.heard is None else self.heard


def moments(timeline: Timeline) -> Iterator[Moment]:
    """Yield the beats and cues of a timeline in order of time."""
    beats = map(_of_beat, timeline)
    cues = map(_of_cue, timeline.cues)
    return heapq.merge(beats, cues, key=lambda moment: moment.time)


def _of_beat(beat: Beat) -> Moment:
    return Moment(beat.time, beat.click, beat.call, beat.call_time)


def _of_cue(cue: Cue) -> Moment:
    room = cue.seconds if cue.change is not None and cue.seconds else None
    return Moment(cue.time, text=said_at(cue), room=room)


def with_next(
    row: Iterable[Moment], wanted: Callable[[Moment], bool]
) -> Iterator[tuple[Moment, Moment | None]]:
    """Pair each moment with the next wanted one after it, or None if there is none in `REACH`."""
    waiting: deque[Moment] = deque()
    for moment in row:
        if wanted(moment):
            while waiting:
                yield waiting.popleft(), moment
        while waiting and moment.time - waiting[0].time > REACH:
            yield waiting.popleft(), None
        waiting.append(moment)
    for moment in waiting:
        yield moment, None
