"""Make the clips of the built-in voice.

    pip install '.[bank]'
    npm pack kokoro-js@1.2.1
    python -m sounds.bank.make_bank kokoro-js-1.2.1.tgz

Every text is spoken once by the model, cut free, and made short enough for each pace without a
change of pitch. The same inputs give the same clips; those that stood there before are removed.
"""

import shutil
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import numpy as np
import soundfile

from sounds.bank.kokoro import RATE, Speaker
from sounds.bank.words import CALLS, DIGITS, HANDS, LETTERS, NUMBERS, PHRASES
from sounds.bank.wsola import shortened
from sounds.voices.centre import centres
from sounds.voices.clip import Samples
from sounds.voices.loudness import levelled

CLIPS: Final = Path(__file__).parent / "clips"

SPEED: Final = 1.15
"""Of the model; 1 is natural. Beyond about 1.5 it swallows sounds, so quicker paces are made by
compression: of speeds from 0.9 to 1.5 this one left digits of 0.2 s the clearest."""

STATED: Final = "."
"""Gives a text its melody."""

RUMBLE_HERTZ: Final = 70.0
"""Below the lowest tone of the voice; nothing there belongs to a word."""

POWER_SECONDS: Final = 0.010
HEAD: Final = 10 ** (-38 / 10)
TAIL: Final = 10 ** (-30 / 10)
"""Power, against the highest, from which a word begins and after which it is over. A hiss at the
start tells words apart; the breath at the end of a word spoken alone is only in the way."""

FADE_IN_SECONDS: Final = 0.004
FADE_OUT_SECONDS: Final = 0.012

USUAL_BEFORE: Final = 0.12
USUAL_AFTER: Final = 0.36
"""How long words last before and after their centre as they are spoken, in seconds. Longer ones
get proportionally more room in every pace, unless each beat may call one."""


@dataclass(frozen=True, slots=True)
class SpeechPace:
    """How quickly a word is said."""

    name: str
    """The name of its folder."""
    before: float
    """The longest a word may last before its perceptual centre, in seconds."""
    after: float
    """The longest a word may last after its perceptual centre, in seconds. Where both together are
    less than a beat, no word runs into the next."""


PACES: Final = (
    SpeechPace("slow", 0.115, 0.270),
    SpeechPace("steady", 0.098, 0.237),
    SpeechPace("brisk", 0.084, 0.208),
    SpeechPace("quick", 0.071, 0.182),
    SpeechPace("rapid", 0.060, 0.160),
)
"""Each about a seventh quicker than the one before; the last fits 260 beats a minute."""

UNHURRIED: Final = "unhurried"
"""The folder of phrases, which no beat presses."""


def clips(speaker: Speaker) -> Iterator[tuple[Path, Samples]]:
    """Yield every clip of the bank with its path inside it."""
    each_beat = DIGITS | HANDS
    for text, phonemes in (each_beat | NUMBERS | LETTERS | CALLS).items():
        word = cut_free(speaker.say(phonemes + STATED, SPEED))
        sooner, longer = (1.0, 1.0) if text in each_beat else _room(word)
        for pace in PACES:
            quick = squeezed(word, pace.before * sooner, pace.after * longer)
            yield _path(pace.name, text), quick
    for text, phonemes in PHRASES.items():
        yield _path(UNHURRIED, text), cut_free(speaker.say(phonemes + STATED, SPEED))


def _path(folder: str, text: str) -> Path:
    return Path(folder, f"{text.replace(' ', '-')}.flac")


def _room(word: Samples) -> tuple[float, float]:
    """Return how much more room than usual a word needs before and after its centre, at least 1."""
    before = centres(word, RATE).mean / RATE
    after = len(word) / RATE - before
    return max(before / USUAL_BEFORE, 1.0), max(after / USUAL_AFTER, 1.0)


def cut_free(speech: Samples) -> Samples:
    """Return a word without rumble and without what comes before and after it."""
    clean = _without_rumble(speech)
    width = round(POWER_SECONDS * RATE)
    power = np.convolve(clean**2, np.ones(width) / width, mode="same")
    power /= power.max()
    first = int(np.flatnonzero(power >= HEAD)[0]) - round(FADE_IN_SECONDS / 2 * RATE)
    last = int(np.flatnonzero(power >= TAIL)[-1]) + round(FADE_OUT_SECONDS / 2 * RATE)
    return clean[max(first, 0) : last].astype(np.float32)


def _without_rumble(speech: Samples) -> Samples:
    """Return speech through a high pass of fourth order without phase."""
    length = 1 << (len(speech) + RATE - 1).bit_length()
    height = (np.fft.rfftfreq(length, 1 / RATE) / RUMBLE_HERTZ) ** 4
    spectrum = np.fft.rfft(speech, length) * (height / (1 + height))
    return np.asarray(np.fft.irfft(spectrum, length)[: len(speech)])


def squeezed(word: Samples, before: float, after: float) -> Samples:
    """Return a word compressed until it keeps to the time before and after its centre."""
    quick, factor = word, 1.0
    while True:
        centre = centres(quick, RATE).mean
        excess = max(centre / (before * RATE), (len(quick) - centre) / (after * RATE))
        if excess <= 1.0:
            return quick
        factor *= max(excess, 1.002)
        quick = shortened(word, RATE, factor)


def faded(word: Samples) -> Samples:
    """Return a word whose edges rise from silence and fall back to it."""
    rise, fall = round(FADE_IN_SECONDS * RATE), round(FADE_OUT_SECONDS * RATE)
    soft = word.copy()
    soft[:rise] *= (np.sin(np.linspace(0, np.pi / 2, rise)) ** 2).astype(np.float32)
    soft[-fall:] *= (np.cos(np.linspace(0, np.pi / 2, fall)) ** 2).astype(np.float32)
    return soft


def main(voices: Path) -> None:
    """Make the bank; `voices` is the npm package that holds the voice."""
    speaker = Speaker(voices)
    with TemporaryDirectory(dir=CLIPS.parent) as fresh:
        for path, samples in clips(speaker):
            place = Path(fresh, CLIPS.name, path)
            place.parent.mkdir(parents=True, exist_ok=True)
            clip = levelled(faded(samples), RATE)
            soundfile.write(place, clip, RATE, subtype="PCM_16", compression_level=1.0)
        shutil.rmtree(CLIPS, ignore_errors=True)
        Path(fresh, CLIPS.name).rename(CLIPS)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
