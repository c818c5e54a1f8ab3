"""A voice without words: a short tone for each text, for where nothing can say it.

A number has a pitch that rises with it, a semitone a step; any other text has two notes of its
own, always the same. So the beat goes on, and a pattern keeps a tune.
"""

import hashlib
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np

from engine.calling.numbers import spoken
from engine.patterns.pattern import HIGHEST_VALUE
from sounds.voices.clip import Clip, Samples
from sounds.voices.loudness import levelled

TONE_SECONDS: Final = 0.14
RISE_SECONDS: Final = 0.006
FALL_SECONDS: Final = 0.04

LOWEST_TONE: Final = 262.0
"""Pitch of a 0 in Hz, a middle C; a 35 comes to 1978 Hz."""

OVERTONES: Final = (1.0, 0.5, 0.25)
"""Amplitudes of the first harmonics: a fuller tone than that of any click."""

FIRST_NOTE: Final = (392.0, 784.0)
INTERVAL: Final = (3.0, 12.0)
"""Of texts that are no numbers: where the first note lies, in Hz, and how far up or down the
second one, in semitones."""

VALUES: Final = {
    text: value for value in range(HIGHEST_VALUE + 1) for text in (str(value), spoken(value))
}


class ToneVoice:
    """A tone for any text; satisfies `sounds.voices.voice.Voice`, with one pace.

    `rate` is the frames a second of every clip.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._clips: dict[str, Clip] = {}

    @property
    def name(self) -> str:
        """What a person calls this voice."""
        return "tone"

    @property
    def rate(self) -> int:
        """Frames a second of every clip."""
        return self._rate

    def prepare(self, texts: Iterable[str]) -> None:
        """Make the tones of all of `texts`."""
        for text in texts:
            self.clips(text)

    def clips(self, text: str) -> Sequence[Clip]:
        """Return the one tone of `text`, which lasts 0.14 s; its centre is its onset."""
        if text not in self._clips:
            self._clips[text] = tone_clip(notes_of(text), self._rate)
        return (self._clips[text],)


def notes_of(text: str) -> tuple[float, ...]:
    """Return the pitches of a text in Hz: one for a throw value, two for anything else."""
    if text in VALUES:
        return (LOWEST_TONE * _ratio(VALUES[text]),)
    place, interval, direction = _shares(text)
    low, high = FIRST_NOTE
    first = low * (high / low) ** place
    small, large = INTERVAL
    semitones = small + (large - small) * interval
    return first, first * _ratio(semitones if direction < 0.5 else -semitones)  # noqa: PLR2004 - half of all go up


def tone_clip(notes: Sequence[float], rate: int) -> Clip:
    """Return notes in a row that last `TONE_SECONDS` together, its centre on the first's onset.

    `notes` are pitches in Hz. `rate` is in frames a second.
    """
    seconds = TONE_SECONDS / len(notes)
    samples = np.concatenate([_note(pitch, seconds, rate) for pitch in notes])
    return Clip(levelled(samples[:, np.newaxis], rate), rate, round(RISE_SECONDS / 2 * rate))


def _ratio(semitones: float) -> float:
    return float(2.0 ** (semitones / 12.0))


def _shares(text: str) -> tuple[float, float, float]:
    """Return three numbers from 0 to 1 that are a text's own, the same on every machine."""
    digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).digest()
    first, second, third = (int.from_bytes(digest[at : at + 4], "big") / 2**32 for at in (0, 4, 8))
    return first, second, third


def _note(pitch: float, seconds: float, rate: int) -> Samples:
    """Return one note, shape (frames,), that rises and falls without a click."""
    time = np.arange(int(seconds * rate)) / rate
    rise = np.clip(time / RISE_SECONDS, 0.0, 1.0)
    fall = np.clip((seconds - time) / FALL_SECONDS, 0.0, 1.0)
    swing = sum(
        amplitude * np.sin(2.0 * np.pi * number * pitch * time)
        for number, amplitude in enumerate(OVERTONES, start=1)
    )
    return np.asarray(swing * rise * fall, dtype=np.float32)
