"""Texts spoken to files by the speech engine, each file checked and made into a clip."""

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Literal, TypeAlias

import numpy as np
import soundfile as sf

from sounds.errors import VoiceError
from sounds.voices.centre import perceptual_centre
from sounds.voices.clip import Clip
from sounds.voices.loudness import levelled
from sounds.voices.speech_child import SpeechRequest, Utterance
from sounds.voices.speech_engine import Speak
from sounds.voices.trim import trimmed

ATTEMPTS: Final = 2

START_SECONDS: Final = 15.0
WORD_SECONDS: Final = 0.25
"""Time allowed to start an engine, and for each text and pace; espeak needs 0.02 s for one."""

SILENT: Final = 10 ** (-60 / 20)
"""A file whose peak is lower than this holds no word."""

Task: TypeAlias = tuple[str, int]
"""A text and the pace at which it is to be said."""

ByteOrder: TypeAlias = Literal["little", "big"]

SIZES: Final[dict[bytes, ByteOrder]] = {b"RIFF": "little", b"FORM": "big"}
"""How WAV and AIFF files write, in bytes 4 to 8, how many bytes follow."""


@dataclass(slots=True)
class Spoken:
    """What came of some tasks."""

    clips: dict[Task, Clip] = field(default_factory=dict)
    """Trimmed, levelled and centred, at the engine's own rate."""
    silent: set[Task] = field(default_factory=set)
    """Tasks that the engine did, and made no sound in."""
    problem: str = ""
    """A plain sentence about the last thing that went wrong."""


def speak_to_clips(tasks: Sequence[Task], voice: str | None, speak: Speak) -> Spoken:
    """Have texts spoken in one process, and what failed once more in another.

    Tasks of one pace belong together. `voice` is the engine's id of the voice; None for its
    default. `speak` says how the engine's process is run.
    """
    spoken = Spoken()
    for _ in range(ATTEMPTS):
        left = [task for task in tasks if task not in spoken.clips]
        if left:
            _attempt(left, voice, speak, spoken)
    return spoken


def _attempt(tasks: Sequence[Task], voice: str | None, speak: Speak, spoken: Spoken) -> None:
    """Add to `spoken` what one process makes of `tasks`, however it ends."""
    try:
        with tempfile.TemporaryDirectory(
            prefix="throwcount-", ignore_cleanup_errors=True
        ) as folder:
            paths = {task: Path(folder) / f"{number}.wav" for number, task in enumerate(tasks)}
            problem = _ask(paths, voice, speak)
            for task, path in paths.items():
                _take(task, path, problem, spoken)
    except OSError as error:
        spoken.problem = f"There is no place for temporary files: {error}."


def _ask(paths: dict[Task, Path], voice: str | None, speak: Speak) -> str | None:
    """Have the files written; return the engine's first complaint, None if it has none."""
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
    """Make a clip of a file, or note what is wrong with it."""
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
    """Tell whether a sound file can be read and has all the bytes that it promises.

    libsndfile reads as much as there is of a truncated file and does not complain.
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
