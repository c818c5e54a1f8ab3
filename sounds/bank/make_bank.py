"""Make the clips of the built-in voice.

    pip install '.[bank]'
    npm pack kokoro-js@1.2.1
    python -m sounds.bank.make_bank kokoro-js-1.2.1.tgz

Every text is spoken by the model, cut free, and made short enough for its pace without a change
of pitch. The same inputs give the same clips; what was not made by this run is removed.
"""

import shutil
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from sounds.bank.kokoro import RATE, Speaker
from sounds.bank.words import CALLS, DIGITS, LETTERS, NUMBERS, PHRASES
from sounds.bank.wsola import shortened
from sounds.centre import centres
from sounds.clip import Samples
from sounds.loudness import levelled

CLIPS: Final = Path(__file__).parent / "clips"

RUMBLE_HERTZ: Final = 70.0
"""Below the lowest tone of the voice; nothing there belongs to a word."""

POWER_SECONDS: Final = 0.010
HEAD: Final = 10 ** (-38 / 10)
TAIL: Final = 10 ** (-30 / 10)
"""Power, against the highest, from which a word begins and after which it is over. A hiss at the
start tells words apart; the breath at the end of a word spoken alone is only in the way."""

FADE_IN_SECONDS: Final = 0.004
FADE_OUT_SECONDS: Final = 0.012

USUAL_AFTER: Final = 0.38
"""How long a word goes on after its centre at natural speed, in seconds. Longer ones get
proportionally more room in every pace, digits excepted."""


@dataclass(frozen=True, slots=True)
class Pace:
    """How quickly a word is said.

    Parameters
    ----------
    name
        Of its folder.
    speed
        Of the model, 1 is natural. It says words well up to about 1.5; what is still too long
        is compressed.
    before, after
        The longest a word may last before and after its perceptual centre, in seconds. Where
        both together are less than a beat, no word runs into the next.
    """

    name: str
    speed: float
    before: float
    after: float


PACES: Final = (
    Pace("slow", 1.0, 0.150, 0.340),
    Pace("steady", 1.15, 0.110, 0.280),
    Pace("brisk", 1.3, 0.090, 0.235),
    Pace("quick", 1.5, 0.075, 0.195),
    Pace("rapid", 1.5, 0.062, 0.162),
)
"""Each about a fifth quicker than the one before; the last fits 260 beats a minute."""

UNHURRIED: Final = PACES[:2]
"""Of phrases, which no beat presses."""


def clips(speaker: Speaker) -> Iterator[tuple[Path, Samples]]:
    """Yield every clip of the bank with its path inside it."""
    for texts, paces in ((DIGITS | NUMBERS | LETTERS | CALLS, PACES), (PHRASES, UNHURRIED)):
        for pace in paces:
            for text, samples in _said(speaker, texts, pace):
                yield Path(pace.name, f"{text.replace(' ', '-')}.flac"), samples


def _said(speaker: Speaker, texts: Mapping[str, str], pace: Pace) -> Iterator[tuple[str, Samples]]:
    for text, phonemes in texts.items():
        word = cut_free(speaker.say(f"{phonemes}.", pace.speed))
        usual = 1.0 if text in DIGITS else _room(word, pace)
        yield text, levelled(squeezed(word, pace.before, pace.after * usual), RATE)


def _room(word: Samples, pace: Pace) -> float:
    """Return how much more room than a usual word this one needs, at least 1."""
    after = (len(word) - centres(word, RATE).mean) / RATE
    return max(after * pace.speed / USUAL_AFTER, 1.0)


def cut_free(speech: Samples) -> Samples:
    """Return a word without rumble and without what comes before and after it."""
    clean = _without_rumble(speech)
    width = round(POWER_SECONDS * RATE)
    power = np.convolve(clean**2, np.ones(width) / width, mode="same")
    power /= power.max()
    fade_in, fade_out = round(FADE_IN_SECONDS * RATE), round(FADE_OUT_SECONDS * RATE)
    first = max(int(np.flatnonzero(power >= HEAD)[0]) - fade_in // 2, 0)
    last = int(np.flatnonzero(power >= TAIL)[-1]) + fade_out // 2
    word = clean[first:last].copy()
    word[:fade_in] *= np.sin(np.linspace(0, np.pi / 2, fade_in)) ** 2
    word[-fade_out:] *= np.cos(np.linspace(0, np.pi / 2, fade_out)) ** 2
    return word.astype(np.float32)


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


def main(voices: Path) -> None:
    """Make the bank from the npm package of the voice."""
    speaker = Speaker(voices)
    shutil.rmtree(CLIPS, ignore_errors=True)
    for path, samples in clips(speaker):
        (CLIPS / path).parent.mkdir(parents=True, exist_ok=True)
        soundfile.write(CLIPS / path, samples, RATE, subtype="PCM_16")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
