"""What makes the call hard to find on a take, and to take out of it."""

from dataclasses import replace
from io import BytesIO

import numpy as np
import soundfile
import soxr
from called_takes import Circumstances
from takes import Room

from throwcount.sounds.samples import RATE, Mono, Samples

MP3_SQUEEZED = 0.6
"""Of the way from the most bits a second that the format has at this rate, 160,000, to the fewest,
8,000: about 64,000."""

TELEPHONE_RATE = 8_000

DRIVE = 2.0
PEAK_SHARE = 0.999
"""How far a loudspeaker is driven at the call's peaks, which this share of the samples stay below:
there its output is half of what it should be."""

GAIN_RANGE = (0.25, 4.0)
ATTACK_SECONDS, RELEASE_SECONDS = 0.01, 0.3
"""How far a phone turns its microphone down and up, and how quickly."""


def drift(parts_in_a_million: float) -> Circumstances:
    """Return takes whose clock runs so much faster than the call's."""

    def changed(room: Room) -> Room:
        return replace(room, drift=parts_in_a_million)

    return Circumstances(changed)


def delay(seconds: float) -> Circumstances:
    """Return takes on which the call begins so late; before the take if below 0."""

    def changed(room: Room) -> Room:
        return replace(room, delay=seconds)

    return Circumstances(changed)


def call_level(decibels: float) -> Circumstances:
    """Return takes on which the call is so much louder than the thuds."""

    def changed(room: Room) -> Room:
        return replace(room, call_level=decibels)

    return Circumstances(changed)


def distorted(samples: Samples) -> Samples:
    """Return what a loudspeaker makes of them that is driven too hard."""
    peak = float(np.quantile(np.abs(samples), PEAK_SHARE))
    return np.asarray(np.tanh(samples / peak * DRIVE) * peak / DRIVE, dtype=np.float32)


def as_mp3(samples: Mono) -> Mono:
    """Return what MP3 leaves of them."""
    file = BytesIO()
    soundfile.write(
        file, samples, RATE, format="MP3", bitrate_mode="CONSTANT", compression_level=MP3_SQUEEZED
    )
    file.seek(0)
    return np.asarray(soundfile.read(file, dtype="float32")[0])


def as_by_telephone(samples: Mono) -> Mono:
    """Return what a recorder of a low sample rate, and 16 bits, leaves of them."""
    few = soxr.resample(samples, RATE, TELEPHONE_RATE)
    rounded = np.rint(few * 32768) / 32768
    return np.asarray(soxr.resample(rounded, TELEPHONE_RATE, RATE), dtype=np.float32)[
        : len(samples)
    ]


def turned_up_and_down(samples: Mono) -> Mono:
    """Return what an automatic gain makes of them, which halves all differences in dB."""
    attack, release = (-np.expm1(-1 / (each * RATE)) for each in (ATTACK_SECONDS, RELEASE_SECONDS))
    level, levels = 0.0, np.empty(len(samples))
    for index, amplitude in enumerate(np.abs(samples).tolist()):
        level += (amplitude - level) * (attack if amplitude > level else release)
        levels[index] = level
    usual = np.median(levels)
    return np.asarray(samples * np.clip(np.sqrt(usual / levels), *GAIN_RANGE), dtype=np.float32)


HARD_TAKES = {
    "drift +200 ppm": drift(200),
    "drift -200 ppm": drift(-200),
    "call begun 4.3 s before": delay(-4.321),
    "call 12 dB louder": call_level(12),
    "call 12 dB softer": call_level(-12),
    "catches on the clicks": Circumstances(dwell=0.5),
    "distorting loudspeaker": Circumstances(speakers=distorted),
    "MP3, 64 kbit/s": Circumstances(phone=as_mp3),
    "automatic gain": Circumstances(phone=turned_up_and_down),
}
