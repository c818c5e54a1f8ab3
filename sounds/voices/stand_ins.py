"""Several voices as one: what the first cannot say, the next one says.

A voice without words: a short tone for each text, for where nothing can say it.

A number has a pitch that rises with it, a semitone a step; any other text has two notes of its
own, always the same. So the beat goes on, and a pattern keeps a tune.

Words that another process has said: clips by text, and a tone for what is not among them.
"""

import hashlib
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from types import MappingProxyType
from typing import Final

import numpy as np

from throwcount.engine.numbers import spoken
from throwcount.engine.patterns.pattern import HIGHEST_VALUE
from throwcount.sounds.errors import SoundError
from throwcount.sounds.measures import levelled
from throwcount.sounds.samples import Clip, Samples
from throwcount.sounds.voices.voice import Voice


class FallbackVoice:
    """A row of voices; satisfies `throwcount.sounds.voices.voice.CallingVoice`.

    Whatever goes wrong with a voice is a reason to ask the next one, so that the beat never
    stops for want of a word.

    Parameters
    ----------
    voices
        In the order in which they are asked, at least one, all at one rate.
    last_resort
        Says anything at all, but not in words; at the same rate.
    remarks
        What there is to know of them before anything is said, in sentences.
    stand_ins
        Open the voices that come after those, each when there is first something to ask it.

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
        self._voices: list[Voice] = []
        for voice in voices:
            self._add(voice)
        self._unopened = deque(stand_ins)
        self._remarks = tuple(remarks)
        self._clips: dict[str, Sequence[Clip]] = {}
        self._missing: dict[str, str] = {}
        self._borrowed: dict[str, str] = {}

    @property
    def name(self) -> str:
        """What a person calls the first voice."""
        return self._voices[0].name

    @property
    def rate(self) -> int:
        """Sample rate of every clip, in Hz."""
        return self._last_resort.rate

    @property
    def remarks(self) -> tuple[str, ...]:
        """What there is to know of these voices before anything is said, in sentences."""
        return self._remarks

    @property
    def missing(self) -> Mapping[str, str]:
        """The texts asked for so far that no voice could say, each with a sentence that says why.

        The last resort stands in for them. The sentence is that of the last voice asked.
        """
        return MappingProxyType(self._missing)

    @property
    def borrowed(self) -> Mapping[str, str]:
        """The texts asked for so far that another voice than the first says.

        Each with a sentence that says why the first could not.
        """
        return MappingProxyType(self._borrowed)

    def prepare(self, texts: Iterable[str]) -> None:
        """Get ready to say `texts`: each voice is handed at once all that those before it lack."""
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
                self._missing[text] = reasons[text][-1]
            elif reasons[text]:
                self._borrowed[text] = reasons[text][0]

    def _add(self, voice: Voice) -> None:
        if voice.rate != self.rate:
            rates = {voice.rate, self.rate}
            raise ValueError(f"Voices that stand in for each other are at one rate, not {rates}.")
        self._voices.append(voice)

    def _in_turn(self) -> Iterator[Voice]:
        """Yield every voice, opening those that were not yet needed."""
        yield from self._voices
        while self._unopened:
            self._add(self._unopened.popleft()())
            yield self._voices[-1]

    def _ask(self, voice: Voice, texts: Sequence[str], reasons: dict[str, list[str]]) -> None:
        """Have a voice say what it can of `texts`, and note why it cannot say the others."""
        with suppress(SoundError):  # what failed says why when its own turn comes
            voice.prepare(texts)
        for text in texts:
            try:
                self._clips[text] = voice.clips(text)
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
    """A tone for any text; satisfies `throwcount.sounds.voices.voice.Voice`, with one pace.

    `rate` is the sample rate of every clip, in Hz.
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
        """Sample rate of every clip, in Hz."""
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

    `notes` are pitches in Hz. `rate` is the sample rate in Hz.
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


class ClipBank:
    """A voice made of clips; satisfies `throwcount.sounds.voices.voice.Voice`.

    `rate` is the sample rate of every clip, in Hz. `clips` are those of each text, the slowest
    first.
    """

    name = "clips"

    def __init__(self, rate: int, clips: Mapping[str, Sequence[Clip]] | None = None) -> None:
        self._clips = dict(clips or {})
        self._last_resort = ToneVoice(rate)

    @property
    def rate(self) -> int:
        """Sample rate of every clip, in Hz."""
        return self._last_resort.rate

    def learn(self, clips: Mapping[str, Sequence[Clip]]) -> None:
        """Take in more clips, or others, by text."""
        self._clips.update(clips)

    def prepare(self, _texts: Iterable[str]) -> None:
        """Do nothing: what is here is ready."""

    def clips(self, text: str) -> Sequence[Clip]:
        """Return the clips of `text`, or a tone, so that the beat goes on without the word."""
        return self._clips.get(text) or self._last_resort.clips(text)
