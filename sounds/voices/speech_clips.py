"""Clips made of the speech engine's files, and a cache on disk so that each is made only once.

The engine speaks texts to sound files; each file is checked, trimmed, levelled and centred. The
cache has one file a clip, written beside its place and renamed, so that several processes can
share a folder and no half-written file is read. A file is the SHA-256 digest of the rest, then two
arrays in numpy's ``.npy`` format: rate and centre, and the samples, kept bit for bit. Failures of
the folder are no errors: a file that is unreadable or does not match its digest counts as absent,
and a clip that cannot be written is kept in memory.
"""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import astuple, dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Final, Literal, TypeAlias

import numpy as np
import soundfile as sf

from throwcount.sounds.errors import FileError, VoiceError
from throwcount.sounds.files.whole_files import temporary_folder, whole_file
from throwcount.sounds.measures import levelled, perceptual_centre, trimmed
from throwcount.sounds.samples import Clip
from throwcount.sounds.voices.speech_child import Speak, SpeechRequest, Utterance

ATTEMPTS: Final = 2

START_SECONDS: Final = 15.0
WORD_SECONDS: Final = 0.25
"""Time allowed to start an engine, and for each text and pace, for which espeak needs 0.02 s."""

SILENT: Final = 10 ** (-60 / 20)
"""A file with a lower peak (-60 dB) holds no word."""

Task: TypeAlias = tuple[str, int]
"""A text and the pace at which it is to be said."""

SIZES: Final[dict[bytes, Literal["little", "big"]]] = {b"RIFF": "little", b"FORM": "big"}
"""The byte order in which WAV and AIFF files give, in bytes 4 to 7, how many bytes follow."""


@dataclass(slots=True)
class Spoken:
    """The outcome of some tasks."""

    clips: dict[Task, Clip] = field(default_factory=dict)
    """Trimmed, levelled and centred, at the engine's own rate."""
    silent: set[Task] = field(default_factory=set)
    """Tasks for which the engine wrote a file without sound."""
    problem: str = ""
    """The last thing that went wrong, as a sentence."""


def speak_to_clips(tasks: Sequence[Task], voice: str | None, speak: Speak) -> Spoken:
    """Have texts spoken in one process, and those that failed once more in another.

    Tasks of one pace stand together. `voice` is the engine's id of the voice, None for its default.
    `speak` runs the engine's process.
    """
    spoken = Spoken()
    for _ in range(ATTEMPTS):
        left = [task for task in tasks if task not in spoken.clips]
        if left:
            _attempt(left, voice, speak, spoken)
    return spoken


def _attempt(tasks: Sequence[Task], voice: str | None, speak: Speak, spoken: Spoken) -> None:
    """Add to `spoken` the outcome of `tasks` in one process, however it ends."""
    try:
        with temporary_folder() as folder:
            paths = {task: folder / f"{number}.wav" for number, task in enumerate(tasks)}
            problem = _ask(paths, voice, speak)
            for task, path in paths.items():
                _take(task, path, problem, spoken)
    except OSError as error:
        spoken.problem = f"There is no place for temporary files: {error}."


def _ask(paths: dict[Task, Path], voice: str | None, speak: Speak) -> str | None:
    """Have the files written; return the first problem that the engine reports, or None."""
    utterances = [
        Utterance(text=text, rate=pace, path=str(path)) for (text, pace), path in paths.items()
    ]
    seconds = START_SECONDS + WORD_SECONDS * len(paths)
    try:
        answer = speak(SpeechRequest(voice=voice, utterances=utterances), seconds)
    except VoiceError as error:
        return str(error)
    return next(iter(answer["problems"]), None)


def _take(task: Task, path: Path, problem: str | None, spoken: Spoken) -> None:
    """Keep the clip of a file, or note what is wrong with the file."""
    spoken.silent.discard(task)
    if not path.exists():
        spoken.problem = problem or "The speech engine left no file."
    elif not _is_whole(path):
        spoken.problem = problem or "The speech engine left a broken file."
    elif (clip := _clip(path)) is None:
        spoken.silent.add(task)
    else:
        spoken.clips[task] = clip


def _is_whole(path: Path) -> bool:
    """Return whether a sound file can be read and is as long as its header says.

    libsndfile reads what there is of a truncated file without an error.
    """
    with path.open("rb") as file:
        kind, size = file.read(4), file.read(4)
    order = SIZES.get(kind)
    if order is not None and path.stat().st_size < int.from_bytes(size, order) + len(kind + size):
        return False
    try:
        return bool(sf.info(path).frames > 0)
    except sf.SoundFileError:
        return False


def _clip(path: Path) -> Clip | None:
    """Return the word in a file, None if it is silent."""
    samples, rate = sf.read(path, dtype="float32", always_2d=True)
    mono = samples.mean(axis=1, keepdims=True)
    if np.max(np.abs(mono)) < SILENT:
        return None
    word = levelled(trimmed(mono, rate), rate)
    return Clip(word, rate, perceptual_centre(word, rate))


PROCESSING: Final = 2
"""To be raised when trimming, levels or centres change, so that all clips are made again."""

LARGEST: Final = 64 * 2**20
"""Bytes that a folder may hold, enough for some 2000 clips."""

KEPT_SHARE: Final = 0.75
"""Share of `LARGEST` that is kept when the oldest files make room for new ones."""

SUFFIX: Final = ".clip"
DIGEST_BYTES: Final = 32


@dataclass(frozen=True, slots=True)
class ClipKey:
    """What identifies a clip."""

    engine: str
    """The speech engine."""
    voice: str
    """The engine's own name for the voice."""
    text: str
    """What is said."""
    pace: int
    """The engine's speech rate."""

    @property
    def file_name(self) -> str:
        """The name of its file, different for every key."""
        described = json.dumps([PROCESSING, *astuple(self)])
        return hashlib.sha256(described.encode("ascii")).hexdigest() + SUFFIX


class ClipCache:
    """Clips by their keys, in files.

    `folder` is made when the first clip is stored. If it holds more than `largest` bytes by then,
    the oldest files are deleted.
    """

    def __init__(self, folder: Path, largest: int = LARGEST) -> None:
        self._folder = folder
        self._largest = largest
        self._in_memory: dict[ClipKey, Clip] = {}
        self._pruned = False

    def load(self, key: ClipKey) -> Clip | None:
        """Return the clip stored under `key`, or None."""
        if key in self._in_memory:
            return self._in_memory[key]
        try:
            packed = (self._folder / key.file_name).read_bytes()
        except OSError:
            return None
        return _unpacked(packed)

    def store(self, key: ClipKey, clip: Clip) -> None:
        """Keep a clip on disk, or in memory if it cannot be written."""
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            if not self._pruned:
                self._pruned = True
                _prune(self._folder, self._largest)
            with whole_file(self._folder / key.file_name, overwrite=True) as unfinished:
                unfinished.write_bytes(_packed(clip))
        except (OSError, FileError):
            self._in_memory[key] = clip


def _packed(clip: Clip) -> bytes:
    buffer = BytesIO()
    np.save(buffer, np.array([clip.rate, clip.centre]))
    np.save(buffer, clip.samples)
    return hashlib.sha256(buffer.getvalue()).digest() + buffer.getvalue()


def _unpacked(packed: bytes) -> Clip | None:
    """Return the clip, or None if a byte of it is missing or wrong."""
    digest, content = packed[:DIGEST_BYTES], packed[DIGEST_BYTES:]
    if hashlib.sha256(content).digest() != digest:
        return None
    buffer = BytesIO(content)
    rate, centre = np.load(buffer, allow_pickle=False).tolist()
    return Clip(np.load(buffer, allow_pickle=False), rate, centre)


def _prune(folder: Path, largest: int) -> None:
    """Delete the oldest files of a folder that holds more than `largest` bytes."""
    found = [(path.stat(), path) for path in folder.glob(f"*{SUFFIX}")]
    excess = sum(status.st_size for status, _ in found)
    if excess <= largest:
        return
    excess -= round(KEPT_SHARE * largest)
    for status, path in sorted(found, key=lambda entry: entry[0].st_mtime):
        if excess <= 0:
            return
        path.unlink(missing_ok=True)
        excess -= status.st_size
