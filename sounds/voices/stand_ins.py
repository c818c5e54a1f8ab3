"""Voices that stand in: a row of voices, a tone for any text, and clips made by another process.

A tone says nothing, but keeps the beat: a throw value has a pitch that rises by a semitone a step,
any other text has two notes of its own, always the same. So a pattern keeps a tune.
"""

import hashlib
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from typing import Final

import numpy as np

from throwcount.engine.numbers import spoken
from throwcount.engine.patterns.pattern import HIGHEST_VALUE
from throwcount.sounds.errors import SoundError
from throwcount.sounds.measures import levelled
from throwcount.sounds.samples import Clip, Samples
from throwcount.sounds.voices.voice import Voice


class FallbackVoice:
    """Voices asked in turn; satisfies `throwcount.sounds.voices.voice.CallingVoice`.

    Where a voice fails in any way the next one is asked, so that the beat never stops for want of
    a word. `voices`, at least one, are asked in order, then those that `stand_ins` open, each when
    it is first needed; `last_resort` can say anything, but not in words. All are at one rate.
    `remarks` are sentences about them that a person should know before they speak.

    Raises
    ------
    ValueError
        If the rates differ; of a stand-in, when it is opened.
    """

    def __init__(
        self,
        voices: Iterable[Voice],
        last_resort: Voice,
        remarks: Iterable[str] = (),
        stand_ins: Iterable[Callable[[], Voice]] = (),
    ) -> None:
        self._last_resort = last_resort
        self.rate = last_resort.rate
        self._voices: list[Voice] = []
        for voice in voices:
            self._add(voice)
        self._unopened = deque(stand_ins)
        self._clips: dict[str, Sequence[Clip]] = {}
        self.remarks = tuple(remarks)
        self.missing: dict[str, str] = {}
        """The texts asked for so far that the last resort says; why the last voice could not."""
        self.borrowed: dict[str, str] = {}
        """The texts asked for so far that a later voice says; why the first could not."""
        self.speakers: dict[str, str] = {}
        """The texts asked for so far, each with the name of the voice that says it."""

    @property
    def name(self) -> str:
        """The name of the first voice."""
        return self._voices[0].name

    def prepare(self, texts: Iterable[str]) -> None:
        """Get ready to say `texts`; each voice gets, all at once, those that no earlier one can."""
        new = [text for text in dict.fromkeys(texts) if text not in self._clips]
        reasons: dict[str, list[str]] = {text: [] for text in new}
        row = self._in_turn()
        while (left := [text for text in new if text not in self._clips]) and (
            voice := next(row, None)
        ):
            self._ask(voice, left, reasons)
        for text in new:
            if text not in self._clips:
                self._clips[text] = self._last_resort.clips(text)
                self.speakers[text] = self._last_resort.name
                self.missing[text] = reasons[text][-1]
            elif reasons[text]:
                self.borrowed[text] = reasons[text][0]

    def _add(self, voice: Voice) -> None:
        if voice.rate != self.rate:
            rates = {voice.rate, self.rate}
            raise ValueError(f"Voices that stand in for each other are at one rate, not {rates}.")
        self._voices.append(voice)

    def _in_turn(self) -> Iterator[Voice]:
        """Yield every voice; open those that were not needed before."""
        yield from self._voices
        while self._unopened:
            self._add(self._unopened.popleft()())
            yield self._voices[-1]

    def _ask(self, voice: Voice, texts: Sequence[str], reasons: dict[str, list[str]]) -> None:
        """Keep what a voice can say of `texts`, and note why it cannot say the others."""
        with suppress(SoundError):  # `clips` gives the reason for each text
            voice.prepare(texts)
        for text in texts:
            try:
                self._clips[text] = voice.clips(text)
                self.speakers[text] = voice.name
            except SoundError as error:
                reasons[text].append(str(error))

    def clips(self, text: str) -> Sequence[Clip]:
        """Return `text` at every pace of the first voice that can say it, the slowest first."""
        if text not in self._clips:
            self.prepare([text])
        return self._clips[text]


TONE_SECONDS: Final = 0.14
RISE_SECONDS: Final = 0.006
FALL_SECONDS: Final = 0.04

LOWEST_TONE: Final = 262.0
"""Pitch of a 0 in Hz: middle C. A 35 has 1978 Hz."""

OVERTONES: Final = (1.0, 0.5, 0.25)
"""Amplitudes of the first harmonics, which make the tone fuller than any click."""

FIRST_NOTE: Final = (392.0, 784.0)
INTERVAL: Final = (3.0, 12.0)
"""For texts that are no throw values: the range of the first note in Hz, and of the interval to the
second, up or down, in semitones."""

VALUES: Final = {
    text: value for value in range(HIGHEST_VALUE + 1) for text in (str(value), spoken(value))
}


class ToneVoice:
    """A tone for any text; satisfies `throwcount.sounds.voices.voice.Voice`, with one pace.

    `rate` is the sample rate of every clip, in Hz.
    """

    name = "tone"

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self._clips: dict[str, Clip] = {}

    def prepare(self, texts: Iterable[str]) -> None:
        """Make the tones of all of `texts`."""
        for text in texts:
            self.clips(text)

    def clips(self, text: str) -> Sequence[Clip]:
        """Return the one tone of `text`, which lasts `TONE_SECONDS`; its centre is its onset."""
        if text not in self._clips:
            notes = notes_of(text)
            seconds = TONE_SECONDS / len(notes)
            samples = np.concatenate([_note(pitch, seconds, self.rate) for pitch in notes])
            word, centre = samples[:, np.newaxis], round(RISE_SECONDS / 2 * self.rate)
            self._clips[text] = Clip(levelled(word, self.rate), self.rate, centre)
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


def _ratio(semitones: float) -> float:
    return float(2.0 ** (semitones / 12.0))


def _shares(text: str) -> tuple[float, float, float]:
    """Return three numbers from 0 to 1 that depend on a text alone: parts of its SHA-256 digest."""
    digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).digest()
    first, second, third = (int.from_bytes(digest[at : at + 4], "big") / 2**32 for at in (0, 4, 8))
    return first, second, third


def _note(pitch: float, seconds: float, rate: int) -> Samples:
    """Return one note, shape (frames,), with linear ramps at both ends against clicks."""
    time = np.arange(int(seconds * rate)) / rate
    rise = np.clip(time / RISE_SECONDS, 0.0, 1.0)
    fall = np.clip((seconds - time) / FALL_SECONDS, 0.0, 1.0)
    swing = sum(
        amplitude * np.sin(2.0 * np.pi * number * pitch * time)
        for number, amplitude in enumerate(OVERTONES, start=1)
    )
    return np.asarray(swing * rise * fall, dtype=np.float32)


class ClipBank:
    """Clips by their text, and a tone for the rest; satisfies `voices.voice.Voice`.

    `rate` is the sample rate of every clip, in Hz. Of each text the slowest of `clips` comes first.
    """

    name = "clips"

    def __init__(self, rate: int, clips: Mapping[str, Sequence[Clip]] | None = None) -> None:
        self.rate = rate
        self._clips = dict(clips or {})
        self._last_resort = ToneVoice(rate)

    def learn(self, clips: Mapping[str, Sequence[Clip]]) -> None:
        """Add clips by text, or replace those of a text."""
        self._clips.update(clips)

    def prepare(self, _texts: Iterable[str]) -> None:
        """Do nothing: what is here is ready."""

    def clips(self, text: str) -> Sequence[Clip]:
        """Return the clips of `text`, or a tone, so that the beat goes on without the word."""
        return self._clips.get(text) or self._last_resort.clips(text)
