#!/usr/bin/env python3
"""Makes `green.ogg`, the tune of `green.toml`, from nothing but numbers.

24 bars of four beats at 100 beats a minute: a round dance in D, plucked, over a drone, with a
wood block on each beat. The first beat falls 0.6 s after the beginning.

    python examples/make_music.py [FILE]
"""

import sys
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import soundfile

RATE: Final = 24_000
TEMPO: Final = 100.0
FIRST_BEAT: Final = 0.6
BAR: Final = 4
BARS: Final = 24
BEAT: Final = 60 / TEMPO
TAIL: Final = 1.5

SCALE: Final = (0, 2, 3, 5, 7, 9, 10)
"""Semitones of the Dorian mode."""

LOWEST: Final = 146.83
"""Hertz of D3, from which notes are counted."""

TUNE: Final = (
    "7- 8 9 | 11 - 9 8 | 7 8 9 7 | 8 - 4 - | 7- 8 9 | 11 - 12 11 | 9 8 7 6 | 7 - - -",
    "9- 11 9 | 8 - 6 4 | 5 6 7 8 | 9 - 8 - | 9- 11 9 | 12 - 11 9 | 8 9 8 6 | 7 - - -",
    "7- 8 9 | 11 - 9 8 | 7 8 9 7 | 8 - 4 - | 4- 6 7 | 8 - 9 8 | 7 6 5 6 | 7 - - -",
)
"""Steps of the scale, a beat each; a dash lets the note before ring on."""

DRONE: Final = (0, 4)
BASS: Final = "0 0 3 4 0 0 4 0"
"""A step for each bar, over and over."""

Samples = npt.NDArray[np.float64]


def tune() -> Samples:
    """Return the whole tune, on one channel."""
    whole = np.zeros(round((FIRST_BEAT + BARS * BAR * BEAT + TAIL) * RATE))
    for beat, step in enumerate(notes()):
        if step is not None:
            add(whole, beat, 0.3 * plucked(hertz(step), 1.6))
    for bar in range(BARS):
        step = int(BASS.split()[bar % len(BASS.split())])
        for half in (0, 2):
            add(whole, BAR * bar + half, 0.35 * plucked(hertz(step) / 2, 1.2))
        for above in DRONE:
            add(whole, BAR * bar, 0.05 * swelled(hertz(step + above), BAR * BEAT))
    for beat in range(BARS * BAR):
        add(whole, beat, (0.30 if beat % BAR else 0.45) * struck())
    return 0.5 * whole / np.max(np.abs(whole))


def notes() -> list[int | None]:
    """Return the step on each beat; None where a note rings on."""
    signs = " ".join(TUNE).replace("|", " ").replace("-", " - ").split()
    return [None if sign == "-" else int(sign) for sign in signs]


def hertz(step: int) -> float:
    """Return the frequency of a step of the scale."""
    octave, degree = divmod(step, len(SCALE))
    return float(LOWEST * 2 ** (octave + SCALE[degree] / 12))


def add(whole: Samples, beat: int, sound: Samples) -> None:
    """Let a sound begin on a beat."""
    first = round((FIRST_BEAT + beat * BEAT) * RATE)
    part = whole[first : first + len(sound)]
    part += sound[: len(part)]


def plucked(frequency: float, seconds: float) -> Samples:
    """Return a string: partials that die away the sooner the higher they are."""
    moments = np.arange(round(seconds * RATE)) / RATE
    partials = (
        np.exp(-moments * (1.5 + 1.8 * number))
        / number**1.4
        * np.sin(2 * np.pi * frequency * number * moments)
        for number in range(1, 7)
    )
    string: Samples = sum(partials, np.zeros(len(moments)))
    return string * np.minimum(moments / 0.004, 1)


def swelled(frequency: float, seconds: float) -> Samples:
    """Return a soft tone that comes and goes."""
    moments = np.arange(round(seconds * RATE)) / RATE
    tone = np.sin(2 * np.pi * frequency * moments) + 0.3 * np.sin(4 * np.pi * frequency * moments)
    swell: Samples = tone * np.sin(np.pi * moments / seconds) ** 2
    return swell


def struck() -> Samples:
    """Return a wood block, at its loudest at once."""
    moments = np.arange(round(0.08 * RATE)) / RATE
    block: Samples = np.exp(-moments / 0.012) * np.cos(2 * np.pi * 1900 * moments)
    return block


if __name__ == "__main__":
    place = Path(sys.argv[1] if len(sys.argv) > 1 else Path(__file__).with_name("green.ogg"))
    soundfile.write(place, tune(), RATE, format="OGG", subtype="VORBIS", compression_level=0.7)
    print(f"{place}: {place.stat().st_size:,} bytes")  # noqa: T201 - a script tells what it did
