"""Voices made of recorded words: the built-in one, and any folder of audio files.

A folder holds one file a word, named for it: `five.flac`, `5.wav`, `LAST-ONE.mp3`. Subfolders
hold the same words said at other paces. A text that has no recording of its own is said as the
words it is made of.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Final

import numpy as np
import soundfile

from throwcount.engine.numbers import spoken
from throwcount.sounds.errors import UnknownWordError, VoiceError
from throwcount.sounds.measures import measured, trimmed
from throwcount.sounds.samples import Clip, Samples

ENDINGS: Final = (".wav", ".flac", ".ogg", ".mp3")

LONGEST_SECONDS: Final = 5.0

BETWEEN_WORDS_SECONDS: Final = 0.02
"""Silence between the words of a text that has no recording of its own."""

BETWEEN_PHRASES_SECONDS: Final = 0.2
"""Silence at a comma."""


class RecordedVoice:
    """A folder of recorded words, as a voice.

    Recordings are read when a text needs them, and kept.

    Parameters
    ----------
    folder
        Audio files named for their words, in the folder or in subfolders of it. WAV, FLAC, OGG
        or MP3, any rate, mono or stereo, at most 5 s each.
    rate
        Sample rate of every clip, in Hz.
    name
        What a person calls this voice; the folder's name if not given.

    Raises
    ------
    VoiceError
        If the folder cannot be read or holds no audio file.
    """

    def __init__(self, folder: Traversable, rate: int, name: str | None = None) -> None:
        self._name = name or folder.name
        self._rate = rate
        self._files = _files_by_word(folder)
        self._longest = max(word.count(" ") + 1 for word in self._files)
        self._recorded: dict[str, tuple[Clip, ...]] = {}
        self._said: dict[str, tuple[Clip, ...]] = {}

    @property
    def name(self) -> str:
        """What a person calls this voice."""
        return self._name

    @property
    def rate(self) -> int:
        """Sample rate of every clip, in Hz."""
        return self._rate

    @property
    def words(self) -> frozenset[str]:
        """Every text that has a recording of its own."""
        return frozenset(self._files)

    def prepare(self, texts: Iterable[str]) -> None:
        """Read the recordings of all of `texts` that this voice can say."""
        for text in texts:
            parts = self._parts(text)
            if parts and all(part in self._files for part in parts):
                self.clips(text)

    def clips(self, text: str) -> Sequence[Clip]:
        """Return `text` said at every pace that was recorded, the slowest first.

        A text of several recordings is said as quickly as they are, pace by pace, with a rest at
        each comma; its centre is the first one's. The same text gives the same clips, made once.

        Raises
        ------
        UnknownWordError
            If a word has no recording.
        VoiceError
            If a recording cannot be used.
        """
        if text in self._said:
            return self._said[text]
        phrases = [phrase.strip() for phrase in text.split(",") if phrase.strip()]
        spoken_phrases = []
        for phrase in phrases if len(phrases) > 1 else [text]:
            parts = self._parts(phrase)
            self._check_known(phrase, parts)
            takes = []
            for part in parts:
                if part not in self._recorded:
                    self._recorded[part] = _recordings(self._files[part], self.rate)
                takes.append(self._recorded[part])
            spoken_phrases.append(_joined(takes, BETWEEN_WORDS_SECONDS))
        self._said[text] = _joined(spoken_phrases, BETWEEN_PHRASES_SECONDS)
        return self._said[text]

    def _check_known(self, text: str, parts: Sequence[str]) -> None:
        unknown = [part for part in parts if part not in self._files]
        if unknown or not parts:
            raise UnknownWordError(
                f"The voice {self.name} has no recording of “{unknown[0] if unknown else text}”"
                + (f", which it needs to say “{text}”." if len(parts) > 1 else ".")
            )

    def _parts(self, text: str) -> list[str]:
        """Split a text into the longest recorded texts it is made of, from its start."""
        words = _as_words(text)
        parts = []
        while words:
            lengths = range(min(self._longest, len(words)), 0, -1)
            tries = (words[:length] for length in lengths)
            part = next((each for each in tries if " ".join(each) in self._files), words[:1])
            parts.append(" ".join(part))
            words = words[len(part) :]
        return parts


def built_in(rate: int) -> RecordedVoice:
    """Return the voice that comes with the program, at a sample rate of `rate` Hz."""
    return RecordedVoice(
        resources.files("throwcount.sounds.bank").joinpath("clips"), rate, "built-in"
    )


def _files_by_word(folder: Traversable) -> dict[str, list[Traversable]]:
    files: dict[str, list[Traversable]] = {}
    try:
        for file in _audio_files(folder):
            files.setdefault(" ".join(_as_words(_stem(file))), []).append(file)
    except OSError as problem:
        raise VoiceError(f"The voice {folder} cannot be opened: {problem.strerror}.") from problem
    if not files:
        endings = ", ".join(ENDINGS)
        raise VoiceError(
            f"The voice {folder} holds no recorded words; it wants audio files ({endings}) named "
            f"for what is said in them."
        )
    return files


def _audio_files(folder: Traversable) -> Iterator[Traversable]:
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.is_dir():
            yield from filter(_is_audio, sorted(entry.iterdir(), key=lambda file: file.name))
        elif _is_audio(entry):
            yield entry


def _is_audio(file: Traversable) -> bool:
    hidden = file.name.startswith(".")
    return not hidden and file.name.lower().endswith(ENDINGS) and file.is_file()


def _stem(file: Traversable) -> str:
    return file.name.rpartition(".")[0]


def _as_words(text: str) -> list[str]:
    """Return a text, or the name of a file, as the words that are said, numbers in words."""
    words = text.lower().replace("-", " ").replace("_", " ").split()
    return " ".join(map(_in_words, words)).split()


def _in_words(word: str) -> str:
    try:
        return spoken(int(word)) if word.isdecimal() else word
    except ValueError:
        return word


def _recordings(files: Iterable[Traversable], rate: int) -> tuple[Clip, ...]:
    """Return a word at each pace that was recorded, the slowest first."""
    clips = (_clip(file).at_rate(rate) for file in files)
    return tuple(sorted(clips, key=lambda clip: -clip.frames))


def _clip(file: Traversable) -> Clip:
    """Return a recording, trimmed and levelled, with its centre, at its own rate."""
    samples, rate = _read(file)
    word = trimmed(samples, rate)
    if not len(word):
        raise VoiceError(f"The recording {file} is silent.")
    gain, centre = _known().get(str(file)) or measured(word, rate)
    return Clip((word * gain).astype(np.float32), rate, centre)


@cache
def _known() -> dict[str, tuple[float, int]]:
    """Return the gain and centre of each clip of the built-in voice, as `make_bank` wrote them."""
    bank = resources.files("throwcount.sounds.bank")
    rows = bank.joinpath("measures.csv").read_text("utf-8").splitlines()
    cells = (row.split(",") for row in rows[1:])
    return {str(bank.joinpath("clips", path)): (float(gain), int(at)) for path, gain, at in cells}


def _read(file: Traversable) -> tuple[Samples, int]:
    """Return a recording as float32 of shape (frames, 1), and its rate."""
    try:
        with file.open("rb") as stream, soundfile.SoundFile(stream) as sound:
            if sound.frames > LONGEST_SECONDS * sound.samplerate:
                seconds = sound.frames / sound.samplerate
                raise VoiceError(
                    f"The recording {file} lasts {seconds:.1f} s; a word may last at most "
                    f"{LONGEST_SECONDS:g} s."
                )
            samples = sound.read(dtype="float32", always_2d=True)
            rate = sound.samplerate
    except soundfile.LibsndfileError as problem:
        reason = problem.error_string
        raise VoiceError(f"The recording {file} cannot be read: {reason}") from problem
    except (OSError, soundfile.SoundFileError) as problem:
        raise VoiceError(f"The recording {file} cannot be read: {problem}") from problem
    if not np.isfinite(samples).all():
        raise VoiceError(f"The recording {file} holds values that are no numbers.")
    return samples.mean(axis=1, keepdims=True), rate


def _joined(takes: Sequence[tuple[Clip, ...]], between: float) -> tuple[Clip, ...]:
    """Return recordings said one after another, once for each pace of the one that has most.

    `takes` are the clips of each text, the slowest first. `between` is the silence between them, in
    seconds.
    """
    if len(takes) == 1:
        return takes[0]
    paces = max(map(len, takes))
    rows = ([take[min(pace, len(take) - 1)] for take in takes] for pace in range(paces))
    joined = (_in_a_row(row, between) for row in rows)
    return tuple(sorted(joined, key=lambda clip: -clip.frames))


def _in_a_row(clips: Sequence[Clip], between: float) -> Clip:
    rate = clips[0].rate
    gap = np.zeros((round(between * rate), 1), dtype=np.float32)
    pieces = [clips[0].samples]
    for clip in clips[1:]:
        pieces += [gap, clip.samples]
    return Clip(np.concatenate(pieces), rate, clips[0].centre)
