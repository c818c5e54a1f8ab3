"""Finished words on disk, so that each is only ever spoken once.

One file a clip, written beside its place and renamed, so that several processes can share a
folder and a half-written file is never taken for a whole one. A file is the SHA-256 digest of
what follows, then two arrays in numpy's ``.npy`` format: rate and centre, and the samples, which
come back bit for bit. Nothing that goes wrong with the folder is an error: what cannot be read
or does not match its digest counts as absent, what cannot be written is kept in memory.
"""

import hashlib
import json
from dataclasses import astuple, dataclass
from io import BytesIO
from pathlib import Path
from typing import Final

import numpy as np

from sounds.errors import FileError
from sounds.files.whole_file import whole_file
from sounds.voices.clip import Clip

PROCESSING: Final = 1
"""To be raised whenever trimming, levels or perceptual centres change: older clips are then
made anew."""

LARGEST: Final = 64 * 2**20
"""Bytes that a folder may hold, some 2000 clips."""

KEPT_SHARE: Final = 0.75
"""Of `LARGEST`, when the oldest files make room for new ones."""

SUFFIX: Final = ".clip"
LEFT_OVER: Final = ".*.part"
"""What `whole_file` leaves of a file when the process is killed."""

DIGEST_BYTES: Final = 32


@dataclass(frozen=True, slots=True)
class ClipKey:
    """What a clip is of."""

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
        """A name that no other key shares."""
        described = json.dumps([PROCESSING, *astuple(self)])
        return hashlib.sha256(described.encode("ascii")).hexdigest() + SUFFIX


class ClipCache:
    """Clips by their keys.

    `folder` is made when the first clip is stored. `largest` is how many bytes it may hold; a
    process that stores clips first deletes the oldest files as far as needed.
    """

    def __init__(self, folder: Path, largest: int = LARGEST) -> None:
        self._folder = folder
        self._largest = largest
        self._in_memory: dict[ClipKey, Clip] = {}
        self._pruned = False

    def load(self, key: ClipKey) -> Clip | None:
        """Return the clip stored under `key`, None if there is none."""
        if key in self._in_memory:
            return self._in_memory[key]
        try:
            packed = (self._folder / key.file_name).read_bytes()
        except OSError:
            return None
        return _unpacked(packed)

    def store(self, key: ClipKey, clip: Clip) -> None:
        """Keep a clip: on disk, or in memory where the folder cannot take it."""
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
    """Return the clip, None if a byte of it is missing or wrong."""
    digest, content = packed[:DIGEST_BYTES], packed[DIGEST_BYTES:]
    if hashlib.sha256(content).digest() != digest:
        return None
    buffer = BytesIO(content)
    rate, centre = np.load(buffer, allow_pickle=False).tolist()
    return Clip(np.load(buffer, allow_pickle=False), rate, centre)


def _prune(folder: Path, largest: int) -> None:
    """Delete the oldest files of a folder that holds more than `largest` bytes."""
    ours = (*folder.glob(f"*{SUFFIX}"), *folder.glob(LEFT_OVER))
    found = [(path.stat(), path) for path in ours]
    excess = sum(status.st_size for status, _ in found)
    if excess <= largest:
        return
    excess -= round(KEPT_SHARE * largest)
    for status, path in sorted(found, key=lambda entry: entry[0].st_mtime):
        if excess <= 0:
            return
        path.unlink(missing_ok=True)
        excess -= status.st_size
