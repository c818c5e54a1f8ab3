"""Short tones that answer a press: one for a drop, one for clean, one for going on.

They are told from clicks, and from each other, on a single speaker: a click is struck and gone
within 45 ms, while these swell and last 0.16 s or more; a drop falls, clean rises, and going on
stays on one low note.
"""

from functools import lru_cache
from typing import Final, Literal, TypeAlias

import numpy as np

from throwcount.sounds.measures import true_peak, word_loudness
from throwcount.sounds.mixing.clicks import CLICK_PEAK
from throwcount.sounds.mixing.mixer import linear
from throwcount.sounds.samples import Clip

ReplyKind: TypeAlias = Literal["drop", "clean", "go"]

TONES: Final[dict[ReplyKind, tuple[float, ...]]] = {
    "drop": (520.0, 347.0),
    "clean": (520.0, 780.0),
    "go": (390.0, 390.0),
}
"""Pitches of the notes in Hz, a fifth apart where they move."""

NOTE_SECONDS: Final = 0.09
EDGE_SECONDS: Final = 0.012
"""The length of a note, and of its rise and its fall."""

OVERTONES: Final = (1.0, 0.3, 0.1)
"""Amplitudes of the first harmonics."""

REPLY_LEVEL: Final = -20.0
"""Loudness, measured as that of words, in LKFS: between a click and a word."""


@lru_cache(maxsize=8)
def reply_clip(kind: ReplyKind, rate: int) -> Clip:
    """Return the tones of an answer in the middle, with their first frame as the centre.

    `rate` is the sample rate in Hz.
    """
    seconds = np.arange(round(NOTE_SECONDS * rate)) / rate
    edges = np.minimum(seconds, NOTE_SECONDS - seconds) / EDGE_SECONDS
    swell = 0.5 - 0.5 * np.cos(np.pi * np.clip(edges, 0.0, 1.0))
    notes = [
        swell
        * sum(
            amplitude * np.sin(2 * np.pi * tone * harmonic * seconds)
            for harmonic, amplitude in enumerate(OVERTONES, 1)
        )
        for tone in TONES[kind]
    ]
    mono = np.concatenate(notes).astype(np.float32)
    samples = np.column_stack((mono, mono))
    gain = linear(REPLY_LEVEL - word_loudness(samples, rate))
    return Clip(samples * np.float32(min(gain, CLICK_PEAK / true_peak(samples, rate))), rate)
