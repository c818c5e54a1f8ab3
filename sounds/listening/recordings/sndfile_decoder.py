"""Recordings that libsndfile decodes: WAV, RF64, AIFF, CAF, FLAC, OGG, MP3 and others."""

from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from sounds.listening.rate import Mono
from sounds.listening.recordings.decoding import UnknownFormatError
from sounds.playing.devices import native_chatter_discarded
from sounds.voices.clip import Samples

CHUNK: Final = 8_192
"""Frames decoded at a time. What breaks off loses up to this many before the break."""

UNKNOWN_FRAMES: Final = 2**63 - 1
"""What libsndfile tells where a header tells no length, as in FLAC that was never ended."""

HEADERLESS: Final = ".raw"
"""The ending by which soundfile takes a file for bare samples, of which nothing is known."""


class ForwardFile(soundfile.SoundFile):  # type: ignore[misc] # soundfile has no types
    """A file that is read from its beginning to its end.

    Of a file that it may seek in, soundfile seeks after every piece to where it is already. In an
    MP3 this makes the decoder forget what it needs for the next piece, which comes out softer or
    silent; elsewhere it takes time.
    """

    def seekable(self) -> bool:
        """Tell that it is not to be sought in."""
        return False


class SndfileDecoder:
    """A recording that libsndfile decodes.

    Raises
    ------
    UnknownFormatError
        If libsndfile does not know its format, or it is damaged from its beginning.
    """

    lost_seconds = 0.0  # libsndfile ends where a file is damaged

    def __init__(self, path: Path) -> None:
        if path.suffix.lower() == HEADERLESS:
            raise UnknownFormatError
        self.path = path
        with self._open() as file:
            self.rate = int(file.samplerate)
            known = file.frames < UNKNOWN_FRAMES
            self.seconds = file.frames / file.samplerate if known else None
            # libmpg123 reports damaged frames on standard error, while it decodes.
            self._chatters = file.format == "MP3"

    def chunks(self) -> Iterator[Mono]:
        """Yield the average of its channels, to the end or to where it breaks off."""
        with self._open() as file:
            while len(samples := self._next(file)):
                yield samples.mean(axis=1)

    def _open(self) -> ForwardFile:
        try:
            with native_chatter_discarded():
                return ForwardFile(str(self.path))
        except soundfile.LibsndfileError as error:
            raise UnknownFormatError from error

    def _next(self, file: ForwardFile) -> Samples:
        """Return the next piece; none after the end and where it cannot be decoded."""
        with native_chatter_discarded() if self._chatters else nullcontext():
            try:
                decoded: Samples = file.read(CHUNK, dtype="float32", always_2d=True)
            except soundfile.LibsndfileError:
                return np.zeros((0, 1), dtype=np.float32)
        return decoded
