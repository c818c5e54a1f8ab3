"""The score: the beats and cues of a timeline in one row, and the word of each.

A word's perceptual centre falls on its moment, so the word starts earlier; how much earlier
differs from word to word. A word is said as slowly as fits: it starts after the end of the word
before and is over when the next word starts. What still runs into the next word fades away before
that, except for a cue call, which is heard to its end.
"""

import heapq
import math
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, TypeAlias

import numpy as np

from throwcount.engine.timing.timeline import Beat, CallKind, Click, Cue, Timeline
from throwcount.sounds.measures import heights
from throwcount.sounds.mixing.mixer import FADE_SECONDS, Placement, falling
from throwcount.sounds.samples import CHANNELS, Clip, Mono, Samples, frame_at
from throwcount.sounds.voices.voice import (
    Voice,
    is_cue_line,
    said_at,
    slowest_that_fits,
    without_mark,
)

SpokenKind: TypeAlias = CallKind | Literal["announcement", "cue"]

REACH = 30.0
"""Seconds of look-ahead: bounded, so that an endless timeline needs no more memory than a short
one, and the search for a next word that never comes is not endless."""


@dataclass(slots=True, eq=False)
class ScoreEvent:
    """A beat or a cue; what is not known at first is filled in on the way to the mixer."""

    time: float
    """In seconds; the click falls on it, and events come in its order."""
    click: Click | None = None
    """What clicks; None for nothing."""
    text: str | None = None
    """What a voice is asked to say; None for nothing."""
    heard: float | None = None
    """Where the perceptual centre of `text` falls, in seconds; None if it just starts at `time`."""
    kind: SpokenKind = "count"
    """What kind of thing `text` is, if it is not None."""
    room: float | None = None
    """Seconds within which `text` has to be said; None for no limit but the next word."""
    word: Placement | None = None
    """What is said, once it has its place."""
    coming: Placement | None = None
    """The next word of a later event; None if none is near."""

    @property
    def spoken_at(self) -> float:
        """The time that the word belongs to, in seconds."""
        return self.time if self.heard is None else self.heard


def score_events(timeline: Timeline) -> Iterator[ScoreEvent]:
    """Yield the beats and cues of a timeline in order of time."""
    beats = map(_of_beat, timeline)
    cues = map(_of_cue, timeline.cues)
    return heapq.merge(beats, cues, key=lambda event: event.time)


def _of_beat(beat: Beat) -> ScoreEvent:
    return ScoreEvent(beat.time, beat.click, beat.call, beat.call_time, beat.call_kind)


def _of_cue(cue: Cue) -> ScoreEvent:
    if cue.change is None:
        return ScoreEvent(cue.time, text=said_at(cue), kind="announcement")
    return ScoreEvent(cue.time, text=said_at(cue), kind="cue", room=cue.seconds or None)


def with_next(
    row: Iterable[ScoreEvent], wanted: Callable[[ScoreEvent], bool]
) -> Iterator[tuple[ScoreEvent, ScoreEvent | None]]:
    """Pair each event with the next wanted one; None if there is none within `REACH`."""
    waiting: deque[ScoreEvent] = deque()
    for event in row:
        if wanted(event):
            while waiting:
                yield waiting.popleft(), event
        while waiting and event.time - waiting[0].time > REACH:
            yield waiting.popleft(), None
        waiting.append(event)
    for event in waiting:
        yield event, None


OVERLAP = 0.025
"""Seconds of a word's end that may be lost to the next word.

Without it, words would be said quicker than they have to be. An independent recogniser understands
digits equally well with and without it, up to 260 beats a minute.
"""


def delivered(row: Iterable[ScoreEvent], voice: Voice, gain: float = 1.0) -> Iterator[ScoreEvent]:
    """Yield the events of `row` in order, with the words of those that say something.

    No two words overlap, none starts before frame 0, and each event knows the next word. `gain` is
    the linear factor of words.

    Raises
    ------
    UnknownWordError
        If `voice` cannot say a text.
    """
    rate = voice.rate
    overlap, fade = OVERLAP * rate, frame_at(FADE_SECONDS, rate)
    earliest, free = 0, -overlap
    waiting: deque[ScoreEvent] = deque()  # until the next word is placed
    for event, following in with_next(row, lambda later: later.text is not None):
        if event.text is not None:
            on = frame_at(event.spoken_at, rate)
            if event.heard is None:
                clip = _in_room(voice.clips(event.text), event.room)
            else:
                clip = _at_pace(event, following, voice, on - free)
                on -= clip.centre
            start, samples = _from_frame(earliest, clip, on, fade)
            event.word = word = Placement(
                start,
                samples,
                gain,
                fade=fade,
                moment=frame_at(event.time, rate),
                spoken=True,
                heights=clip_heights(clip)[start - on :][: len(samples)],
                again=True,
            )
            end = start + len(samples)
            earliest, free = (end, end) if is_cue_line(event.text) else (start, end - overlap)
            while waiting:
                yield _before(waiting.popleft(), word)
        while waiting and event.time - waiting[0].time > REACH:
            yield waiting.popleft()
        waiting.append(event)
    yield from waiting


@dataclass(frozen=True, slots=True)
class SpokenText:
    """Something said, as it is heard."""

    time: float
    """When it begins, in seconds from the first sample."""
    seconds: float
    """How long it lasts."""
    text: str
    """What is said."""
    kind: SpokenKind
    """What kind of thing that is."""


def spoken_besides(timeline: Timeline, voice: Voice) -> Iterator[SpokenText]:
    """Yield all that is said besides the count, in order of time.

    Raises
    ------
    UnknownWordError
        If `voice` cannot say a text.
    """
    for event in delivered(score_events(timeline), voice):
        if event.word is not None and event.kind != "count":
            start, end = event.word.start, event.word.end
            text = without_mark(event.text or "")
            yield SpokenText(start / voice.rate, (end - start) / voice.rate, text, event.kind)


def _before(event: ScoreEvent, coming: Placement) -> ScoreEvent:
    """Return an event that knows the word coming next, and whose own word makes way for it."""
    event.coming = coming
    if event.word is not None and event.word.end > coming.start:
        event.word.stop = coming.start
    return event


def _in_room(clips: Sequence[Clip], room: float | None) -> Clip:
    """Return the clip of a cue: at its natural pace, or the slowest that fits in `room` seconds."""
    return clips[0] if room is None else slowest_that_fits(clips, room)


def _at_pace(event: ScoreEvent, following: ScoreEvent | None, voice: Voice, before: float) -> Clip:
    """Return the slowest clip of a call that has room; if none has, the length alone decides.

    There is room from `before` frames ahead of the centre up to the next word and the overlap.
    """
    gap, after = REACH, math.inf
    clips = voice.clips(event.text or "")
    if following is not None:
        gap = following.spoken_at - event.spoken_at
        rate = voice.rate
        after = gap * rate - _lead(following, voice, gap) + OVERLAP * rate
    for clip in clips:
        if clip.centre <= before and clip.frames - clip.centre <= after:
            return clip
    return slowest_that_fits(clips, gap)


def _lead(following: ScoreEvent, voice: Voice, gap: float) -> int:
    """Return about how many frames before its beat the next word will start.

    Its pace is not settled yet; the one that fits in `gap` seconds is assumed.
    """
    if following.heard is None:
        return 0
    return slowest_that_fits(voice.clips(following.text or ""), gap).centre


def _from_frame(earliest: int, clip: Clip, start: int, fade: int) -> tuple[int, Samples]:
    """Return where a clip starts, and its samples, without what comes before `earliest`."""
    samples = stereo(clip)
    late = earliest - start
    if late > 0:
        samples = samples[late:].copy()
        fade = min(fade, len(samples))
        samples[:fade] *= falling(fade)[::-1, np.newaxis]
        start = earliest
    longest = frame_at(REACH, clip.rate)
    return start, samples if len(samples) <= longest else samples[:longest]


@lru_cache(maxsize=1024)
def stereo(clip: Clip) -> Samples:
    """Return the samples of a clip on two channels; a single one goes to both."""
    return np.ascontiguousarray(np.broadcast_to(clip.samples, (clip.frames, CHANNELS)))


@lru_cache(maxsize=1024)
def clip_heights(clip: Clip) -> Mono:
    """Return the highest magnitude of a clip at each frame and up to the next."""
    return heights(clip.samples, clip.rate)
