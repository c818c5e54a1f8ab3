"""How each word is delivered: at which pace, from which frame, and where it is cut.

A word's perceptual centre falls on its moment, so it starts before it. It is said as slowly as
fits: short enough for the time to the next word, and with a start, before its centre, no longer
than the word before leaves free. What still runs into the next word fades away before that.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from sounds.clip import Clip, Samples
from sounds.loudness import true_peak
from sounds.mixer import CHANNELS, FADE_SECONDS, falling
from sounds.moments import REACH, Moment, Word, frame_at, with_next
from sounds.voice import Voice, slowest_that_fits


def delivered(row: Iterable[Moment], voice: Voice) -> Iterator[Moment]:
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
    for moment, following in with_next(_placed(row, voice), lambda later: later.word is not None):
        if following is None or following.word is None:
            yield moment
            continue
        coming = following.word.start
        word = moment.word
        if word is not None and word.end > coming:
            word = replace(word, stop=coming)
        yield replace(moment, word=word, coming=coming)


def _placed(row: Iterable[Moment], voice: Voice) -> Iterator[Moment]:
    """Choose each word's pace, and with it the frame where it starts."""
    start, end = 0, 0
    for moment, following in with_next(row, lambda later: later.text is not None):
        if moment.text is None:
            yield moment
            continue
        gap = REACH if following is None else following.spoken_at - moment.spoken_at
        on = frame_at(moment.spoken_at, voice.rate)
        clip = _at_pace(moment, voice.clips(moment.text), gap, (on - end) / voice.rate)
        word = _word(clip, on if moment.heard is None else on - clip.centre, earliest=start)
        start, end = word.start, word.end
        yield replace(moment, word=word)


def _at_pace(moment: Moment, clips: Sequence[Clip], gap: float, lead: float) -> Clip:
    """Return the slowest clip that lasts no longer than `gap` and leads in no longer than `lead`.

    What starts at its moment, and is not centred on it, is said at its natural pace.
    """
    if moment.heard is None:
        return clips[0]
    leading = [clip for clip in clips if clip.centre <= lead * clip.rate]
    return slowest_that_fits(leading or clips, gap)


def _word(clip: Clip, start: int, earliest: int) -> Word:
    """Place a clip, without what would fall before the `earliest` frame."""
    samples = stereo(clip)
    peak = clip_peak(clip)
    late = earliest - start
    if late > 0:
        samples = samples[late:].copy()
        fade = min(frame_at(FADE_SECONDS, clip.rate), len(samples))
        samples[:fade] *= falling(fade)[::-1, np.newaxis]
        start = earliest
    return Word(start, samples[: frame_at(REACH, clip.rate)], peak)


@lru_cache(maxsize=1024)
def stereo(clip: Clip) -> Samples:
    """Return the samples of a clip on two channels, the same on both if it has one."""
    return np.ascontiguousarray(np.broadcast_to(clip.samples, (clip.frames, CHANNELS)))


@lru_cache(maxsize=1024)
def clip_peak(clip: Clip) -> float:
    """Return the true peak of a clip, linear."""
    return float(true_peak(clip.samples, clip.rate))
