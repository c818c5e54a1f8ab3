"""How each word is delivered: at which pace, from which frame, and where it is cut.

A word's perceptual centre falls on its moment, so it starts before it, and how long before
differs from word to word. It is said as slowly as fits: after the end of the word before, and
over when the next one starts. What still runs into the next word fades away before that, but for
a cue call, which is heard to its end.

The score events of a timeline, beats and cues in one row, and a look at the ones that follow.
"""

import heapq
import math
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from throwcount.engine.timing.timeline import Beat, Click, Cue, Timeline
from throwcount.sounds.measures import true_peak
from throwcount.sounds.mixing.mixer import FADE_SECONDS, falling
from throwcount.sounds.samples import CHANNELS, Clip, Samples, frame_at
from throwcount.sounds.voices.voice import Voice, is_cue_line, said_at, slowest_that_fits

REACH = 30.0
"""Seconds of look-ahead. Bounded, so that an endless timeline needs no more memory than a short
one, nor an endless search for a next word that never comes."""


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


OVERLAP = 0.025
"""Seconds of a word's end that may be lost to the next word.

With none, words are said quicker than they have to be. An independent recogniser understands
digits as well with it as without, up to 260 beats a minute.
"""


def delivered(row: Iterable[ScoreEvent], voice: Voice) -> Iterator[ScoreEvent]:
    """Give every moment that says something its word.

    Yields
    ------
    Moment
        The moments of `row` in their order. No two words overlap, none starts before frame 0,
        and each knows where the next word starts.

    Raises
    ------
    UnknownWordError
        If `voice` has no way to say a text.
    """
    overlap = OVERLAP * voice.rate
    earliest, free = 0, -overlap
    waiting: deque[ScoreEvent] = deque()  # for the next word
    for event, following in with_next(row, lambda later: later.text is not None):
        if event.text is not None:
            on = frame_at(event.spoken_at, voice.rate)
            if event.heard is None:
                clip = _in_room(voice.clips(event.text), event.room)
            else:
                clip = _at_pace(event, following, voice, on - free)
                on -= clip.centre
            event.word = word = _word(clip, on, earliest)
            whole = is_cue_line(event.text)
            earliest, free = (word.end, word.end) if whole else (word.start, word.end - overlap)
            while waiting:
                yield _before(waiting.popleft(), word)
        while waiting and event.time - waiting[0].time > REACH:
            yield waiting.popleft()
        waiting.append(event)
    yield from waiting


def _before(event: ScoreEvent, coming: PlacedWord) -> ScoreEvent:
    """Tell a moment which word comes next, for which its own makes way."""
    event.coming = coming.start
    if event.word is not None and event.word.end > coming.start:
        event.word.stop = coming.start
    return event


def _in_room(clips: Sequence[Clip], room: float | None) -> Clip:
    """Return what starts at a moment of its own: at its natural pace, where that has room."""
    return clips[0] if room is None else slowest_that_fits(clips, room)


def _at_pace(event: ScoreEvent, following: ScoreEvent | None, voice: Voice, before: float) -> Clip:
    """Return the slowest clip with room for it, which is free from `before` frames earlier on.

    Where there is room for none, the length alone decides.
    """
    gap, after = REACH, math.inf
    clips = voice.clips(event.text or "")
    if following is not None:
        gap = following.spoken_at - event.spoken_at
        after = gap * voice.rate - _lead(following, voice, gap)
    overlap = OVERLAP * voice.rate
    fitting = [
        clip
        for clip in clips
        if clip.centre <= before and clip.frames - clip.centre <= after + overlap
    ]
    return fitting[0] if fitting else slowest_that_fits(clips, gap)


def _lead(following: ScoreEvent, voice: Voice, gap: float) -> int:
    """Guess how long before its moment the next word will start, in frames.

    Its pace is not settled yet; the one that the time before it allows is a fair guess.
    """
    if following.heard is None:
        return 0
    return slowest_that_fits(voice.clips(following.text or ""), gap).centre


def _word(clip: Clip, start: int, earliest: int) -> PlacedWord:
    """Place a clip, without what would fall before the `earliest` frame."""
    samples = stereo(clip)
    peak = clip_peak(clip)
    late = earliest - start
    if late > 0:
        samples = samples[late:].copy()
        fade = min(frame_at(FADE_SECONDS, clip.rate), len(samples))
        samples[:fade] *= falling(fade)[::-1, np.newaxis]
        start = earliest
    longest = frame_at(REACH, clip.rate)
    return PlacedWord(start, samples if len(samples) <= longest else samples[:longest], peak)


@lru_cache(maxsize=1024)
def stereo(clip: Clip) -> Samples:
    """Return the samples of a clip on two channels, the same on both if it has one."""
    return np.ascontiguousarray(np.broadcast_to(clip.samples, (clip.frames, CHANNELS)))


@lru_cache(maxsize=1024)
def clip_peak(clip: Clip) -> float:
    """Return the true peak of a clip, linear."""
    return float(true_peak(clip.samples, clip.rate))
