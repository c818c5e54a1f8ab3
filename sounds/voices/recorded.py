"""Voices made of recorded words: the built-in one, and any folder of audio files.

A folder holds one file a word, named for it: `five.flac`, `5.wav`, `LAST-ONE.mp3`. Subfolders
hold the same words at other paces. A text without a recording of its own is said word by word.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from throwcount.engine.numbers import spoken
from throwcount.sounds.errors import UnknownWordError, VoiceError
from throwcount.sounds.files.whole_files import check_input
from throwcount.sounds.measures import limited, measured, trimmed, with_soft_edges
from throwcount.sounds.samples import Clip, Samples
from throwcount.sounds.voices.voice import Finish, unchanged

ENDINGS: Final = (".wav", ".flac", ".ogg", ".mp3")

LONGEST_SECONDS: Final = 5.0

BETWEEN_WORDS_SECONDS: Final = 0.02
"""Silence between the words of a text that has no recording of its own."""

BETWEEN_PHRASES_SECONDS: Final = 0.3
"""Silence at a comma."""

CONTINUED: Final = "continued"
"""Opens the names of subfolders that hold words as they sound when others follow."""


class RecordedVoice:
    """A folder of recorded words; satisfies `throwcount.sounds.voices.voice.Voice`.

    `folder` holds audio files named for their words, itself or in subfolders: WAV, FLAC, OGG or
    MP3, at any rate, mono or stereo, at most `LONGEST_SECONDS` each; they are read when they are
    first needed. `rate` is the sample rate of every clip, in Hz. `name` is what people call this
    voice, by default the folder's name. `trim` is whether to cut off the silence around recordings.
    `finish` makes of each recording, levelled and centred, the clip that is heard.

    Raises
    ------
    VoiceError
        If the folder cannot be read or holds no audio file.
    """

    def __init__(
        self,
        folder: Traversable,
        rate: int,
        name: str | None = None,
        *,
        trim: bool = True,
        finish: Finish = unchanged,
    ) -> None:
        self.name = name or folder.name
        self.rate = rate
        self._trim = trim
        self._finish = finish
        self._files, self._continued = _files_by_word(folder)
        self._longest = max(word.count(" ") + 1 for word in self._files)
        self._recorded: dict[str, tuple[Clip, ...]] = {}
        self._before_others: dict[str, tuple[Clip, ...]] = {}
        self._said: dict[str, tuple[Clip, ...]] = {}

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

        A text made of several recordings joins them pace by pace, with silence at each comma; its
        centre is that of the first. All but the last of a phrase sound as when others follow, where
        they are recorded so. The clips of a text are made once.

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
            takes = [*map(self._continuing, parts[:-1]), self._stated(parts[-1])]
            spoken_phrases.append(_joined(takes, BETWEEN_WORDS_SECONDS))
        self._said[text] = _joined(spoken_phrases, BETWEEN_PHRASES_SECONDS)
        return self._said[text]

    def _stated(self, part: str) -> tuple[Clip, ...]:
        """Return the recordings of a part of a text, the slowest first.

        A part of several words has further, quicker paces where each of its words has.
        """
        if part not in self._recorded:
            whole = self._read(self._files[part])
            words = part.split()
            if len(words) > 1 and all(word in self._files for word in words):
                each = [self._stated(word) for word in words]
                joined = _joined(each, BETWEEN_WORDS_SECONDS)[len(whole) :]
                fewest = min(map(len, each))
                whole += tuple(
                    clip
                    for clip in joined[: max(fewest - len(whole), 0)]
                    if clip.frames < whole[-1].frames
                )
            self._recorded[part] = whole
        return self._recorded[part]

    def _continuing(self, part: str) -> tuple[Clip, ...]:
        """Return a part of a text as it sounds when others follow, the slowest first.

        Paces at which it is not recorded so are as in `_stated`.
        """
        if part not in self._before_others:
            before = self._read(self._continued.get(part, ()))
            self._before_others[part] = before + self._stated(part)[len(before) :]
        return self._before_others[part]

    def _read(self, files: Iterable[Traversable]) -> tuple[Clip, ...]:
        return _slowest_first(
            self._finish(_clip(file, self._trim).at_rate(self.rate)) for file in files
        )

    def _check_known(self, text: str, parts: Sequence[str]) -> None:
        unknown = [part for part in parts if part not in self._files]
        if unknown or not parts:
            raise UnknownWordError(
                f"The voice {self.name} has no recording of “{unknown[0] if unknown else text}”"
                + (f", which it needs to say “{text}”." if len(parts) > 1 else ".")
            )

    def _parts(self, text: str) -> list[str]:
        """Split a text, from its start, into the longest parts that are recorded."""
        words = _as_words(text)
        parts = []
        while words:
            lengths = range(min(self._longest, len(words)), 0, -1)
            tries = (words[:length] for length in lengths)
            part = next((each for each in tries if " ".join(each) in self._files), words[:1])
            parts.append(" ".join(part))
            words = words[len(part) :]
        return parts


BUILT_IN_VOICES: Final = {"built-in": "clips", "built-in-2": "clips-2"}
"""The voices that come with the program, each with the folder of its clips in the bank."""


def built_in(rate: int, name: str = "built-in", finish: Finish = unchanged) -> RecordedVoice:
    """Return a voice of `BUILT_IN_VOICES`; the parameters are those of `RecordedVoice`."""
    folder = resources.files("throwcount.sounds.bank").joinpath(BUILT_IN_VOICES[name])
    return RecordedVoice(folder, rate, name, trim=False, finish=finish)


def _files_by_word(
    folder: Traversable,
) -> tuple[dict[str, list[Traversable]], dict[str, list[Traversable]]]:
    """Return the files of each word said by itself, and of each word that others follow."""
    files: dict[str, list[Traversable]] = {}
    continued: dict[str, list[Traversable]] = {}
    try:
        for file, subfolder in _audio_files(folder):
            word = " ".join(_as_words(file.name.rpartition(".")[0]))
            kind = continued if subfolder.startswith(CONTINUED) else files
            kind.setdefault(word, []).append(file)
    except OSError as problem:
        raise VoiceError(f"The voice {folder} cannot be opened: {problem.strerror}.") from problem
    if not files:
        endings = ", ".join(ENDINGS)
        raise VoiceError(
            f"The voice {folder} holds no recorded words; it needs audio files ({endings}) named "
            f"for the words in them."
        )
    return files, continued


def _audio_files(folder: Traversable) -> Iterator[tuple[Traversable, str]]:
    """Yield each audio file with the name of its subfolder, which may be empty."""
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.is_dir():
            inside = sorted(entry.iterdir(), key=lambda file: file.name)
            yield from ((file, entry.name) for file in inside if _is_audio(file))
        elif _is_audio(entry):
            yield entry, ""


def _is_audio(file: Traversable) -> bool:
    hidden = file.name.startswith(".")
    return not hidden and file.name.lower().endswith(ENDINGS) and file.is_file()


def _as_words(text: str) -> list[str]:
    """Return the spoken words of a text or a file name, numbers in words."""
    words = text.lower().replace("-", " ").replace("_", " ").split()
    return " ".join(map(_in_words, words)).split()


def _in_words(word: str) -> str:
    try:
        return spoken(int(word)) if word.isdecimal() else word
    except ValueError:
        return word


def _slowest_first(clips: Iterable[Clip]) -> tuple[Clip, ...]:
    return tuple(sorted(clips, key=lambda clip: -clip.frames))


def _clip(file: Traversable, trim: bool) -> Clip:
    """Return a recording at its own rate, levelled and centred, trimmed if wanted.

    Edges are faded all the same, as a lossy copy may not end in silence.
    """
    word, rate = _read(file)
    word = trimmed(word, rate) if trim else with_soft_edges(word, rate)
    if not word.any():
        raise VoiceError(f"The recording {file} is silent.")
    gain, centre = _known().get(str(file)) or measured(word, rate)
    return Clip(limited((word * gain).astype(np.float32), rate), rate, centre)


@cache
def _known() -> dict[str, tuple[float, int]]:
    """Return the gain and centre of each clip of the built-in voices, as `make_bank` wrote them."""
    bank = resources.files("throwcount.sounds.bank")
    rows = bank.joinpath("measures.csv").read_text("utf-8").splitlines()
    cells = (row.split(",") for row in rows[1:])
    return {str(bank.joinpath(path)): (float(gain), int(at)) for path, gain, at in cells}


def _read(file: Traversable) -> tuple[Samples, int]:
    """Return a recording as float32 of shape (frames, 1), and its rate."""
    try:
        if isinstance(file, Path):
            check_input(file)
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
        raise VoiceError(f"The recording {file} holds values that are not numbers.")
    return samples.mean(axis=1, keepdims=True), rate


def _joined(takes: Sequence[tuple[Clip, ...]], between: float) -> tuple[Clip, ...]:
    """Return recordings one after another, at as many paces as the one that has most.

    `takes` are the clips of each text, the slowest first. `between` is the silence between texts,
    in seconds.
    """
    if len(takes) == 1:
        return takes[0]
    paces = max(map(len, takes))
    rows = ([take[min(pace, len(take) - 1)] for take in takes] for pace in range(paces))
    return _slowest_first(_in_a_row(row, between) for row in rows)


def _in_a_row(clips: Sequence[Clip], between: float) -> Clip:
    rate = clips[0].rate
    gap = np.zeros((round(between * rate), 1), dtype=np.float32)
    pieces = [clips[0].samples]
    for clip in clips[1:]:
        pieces += [gap, clip.samples]
    return Clip(np.concatenate(pieces), rate, clips[0].centre)
