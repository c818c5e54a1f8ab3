"""A word without the silence around it."""

from typing import Final

import numpy as np

from sounds.voices.clip import Samples

QUIET: Final = 10 ** (-40 / 20)
"""Against a word's peak; below it, at either end, a word counts as silent."""

FADE_SECONDS: Final = 0.003
"""Kept around a word to fade in and out, so that no edge clicks."""


def span(samples: Samples, quiet: float = QUIET) -> tuple[int, int]:
    """Return the first frame of a word and the frame after its last.

    `samples` are float32, shape (frames,) or (frames, channels). `quiet` is linear, against the
    peak. Both are 0 for silence.
    """
    heights = np.abs(samples) if samples.ndim == 1 else np.abs(samples).max(axis=1)
    peak = heights.max(initial=0.0)
    if peak == 0.0:
        return 0, 0
    sounding = np.flatnonzero(heights >= quiet * peak)
    return int(sounding[0]), int(sounding[-1]) + 1


def trimmed(samples: Samples, rate: int) -> Samples:
    """Return a word from just before it is heard to just after, its edges faded.

    `samples` are float32, shape (frames,) or (frames, channels). `rate` is in frames a second. The
    result is a copy, of no frames for silence.
    """
    first, last = span(samples)
    if first == last:
        return samples[:0].copy()
    fade = round(FADE_SECONDS * rate)
    head, tail = min(fade, first), min(fade, len(samples) - last)
    cut = samples[first - head : last + tail].copy()
    cut[:head] = (cut[:head].T * _rising(head)).T
    cut[len(cut) - tail :] = (cut[len(cut) - tail :].T * _rising(tail)[::-1]).T
    return cut


def _rising(frames: int) -> Samples:
    """Return `frames` factors that rise from near 0 to near 1 along half a cosine."""
    phase = (np.arange(frames) + 0.5) / max(frames, 1)
    return (0.5 - 0.5 * np.cos(np.pi * phase)).astype(np.float32)
