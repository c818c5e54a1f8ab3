"""How each word is delivered: at which pace, from which frame, and where it is cut.

A word's perceptual centre falls on its moment, so it starts before it, and how long before
differs from word to word. It is said as slowly as fits: after the end of the word before, and
over when the next one starts. What still runs into the next word fades away before that, but for
a cue call, which is heard to its end.
"""

import math
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

import numpy as np

from sounds.placing.mixer import CHANNELS, FADE_SECONDS, falling
from sounds.placing.moments import REACH, PlacedWord, ScoreEvent, frame_at, with_next
from sounds.voices.clip import Clip, Samples
from sounds.voices.cue_voice import is_cue_line
from sounds.voices.loudness import true_peak
from sounds.voices.voice import Voice, slowest_that_fits

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
