"""A take: a recording of juggling, read in blocks, whatever its format and its length.

Handed out is mono float32 of shape (frames,), its channels averaged, at `RATE` frames a second;
nominal values are in [-1, 1]. libsndfile reads what it knows; what phones and cameras record is
read by PyAV, if that is installed.
"""

import errno
import stat
from collections.abc import Generator, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Final

import numpy as np
import soxr

from sounds.errors import TakeError
from sounds.listening.rate import RATE, Mono
from sounds.listening.recordings.decoding import Decoder, UnknownFormatError
from sounds.listening.recordings.phone_decoder import PhoneDecoder
from sounds.listening.recordings.sndfile_decoder import SndfileDecoder

LOWEST_RATE: Final = 4_000
"""Frames a second below which a catch cannot be told from a thump; phones use 8,000 and more."""

HIGHEST_RATE: Final = 1_000_000
"""Frames a second above which a file's header is not to be believed."""

LOUDEST: Final = 1e6
"""Values of floating-point files beyond this are cut, so that no power of them overflows."""

MISSING_SECONDS: Final = 0.5
"""A take that is shorter than its header says by no more than this counts as whole."""

REASONS: Final = {
    errno.ENOENT: "there is no such file.",
    errno.ENOTDIR: "part of the path to it is a file and no folder.",
    errno.EACCES: "you have no permission to read it.",
    errno.EPERM: "you have no permission to read it.",
}
"""What the system's error numbers mean here."""


class Take:
    """A recording that can be read from its beginning as often as needed.

    `decoder` is what reads it. `readings` is what ends every reading that is still going on.
    """

    def __init__(self, decoder: Decoder, readings: ExitStack) -> None:
        self._decoder = decoder
        self._readings = readings
        self._warning: str | None = None

    @property
    def rate(self) -> int:
        """Frames a second of what is handed out: `RATE`."""
        return RATE

    @property
    def seconds(self) -> float | None:
        """Length as the file's header tells it; None if it tells none."""
        return self._decoder.seconds

    @property
    def warning(self) -> str | None:
        """What the last reading to the end found damaged, as a sentence; None if nothing."""
        return self._warning

    def blocks(self, size: int) -> Iterator[Mono]:
        """Read the take from its beginning.

        `size` is the length of each block but the last, in frames, at least 1.

        Yields
        ------
        Mono
            Float32 of shape (`size`,), all finite; the last block may be shorter, never empty.

        Raises
        ------
        TakeError
            If the file holds no sound, or has gone since the take was opened. A file that breaks
            off later ends there, and `warning` tells.
        """
        reading = self._read(size)
        self._readings.callback(reading.close)
        return reading

    def _read(self, size: int) -> Generator[Mono, None, None]:
        self._warning = None
        path, frames = self._decoder.path, 0
        try:
            for block in regrouped(resampled(self._decoder.chunks(), self._decoder.rate), size):
                frames += len(block)
                yield block
        except UnknownFormatError as error:
            raise TakeError(f"The take {path} has gone or changed since it was opened.") from error
        if not frames:
            raise TakeError(f"The take {path} holds no sound.")
        self._warning = self._damage(frames / RATE)

    def _damage(self, seconds: float) -> str | None:
        path, told, lost = self._decoder.path, self._decoder.seconds, self._decoder.lost_seconds
        if told is not None and told - seconds > MISSING_SECONDS:
            return (
                f"The take {path} breaks off after {seconds:.1f} of {told:.1f} s; only what comes "
                f"before was listened to."
            )
        if lost > MISSING_SECONDS:
            return f"{lost:.1f} s of the take {path} are damaged and count as silence."
        return None


@contextmanager
def open_take(path: Path) -> Iterator[Take]:
    """Open a recording.

    Parameters
    ----------
    path
        WAV, FLAC, OGG, MP3 or another format of libsndfile; with PyAV also what phones and
        cameras record, such as M4A, MP4, MOV, 3GP and WebM, of which the first sound is taken.

    Yields
    ------
    Take
        To be read while the context lasts.

    Raises
    ------
    TakeError
        If there is no such file, it holds no sound, it is damaged from the beginning, or PyAV
        would be needed and is not installed.
    """
    decoder = _decoder(path)
    if not decoder.rate:
        raise TakeError(f"The take {path} cannot be read: it is damaged, or it is no recording.")
    if not LOWEST_RATE <= decoder.rate <= HIGHEST_RATE:
        raise TakeError(
            f"The take {path} has {decoder.rate} samples a second; catches are found in takes "
            f"with {LOWEST_RATE} to {HIGHEST_RATE}."
        )
    with ExitStack() as readings:
        yield Take(decoder, readings)


def _decoder(path: Path) -> Decoder:
    check_readable(path)
    try:
        return SndfileDecoder(path)
    except UnknownFormatError:
        return PhoneDecoder(path)


def resampled(chunks: Iterable[Mono], rate: int) -> Iterator[Mono]:
    """Yield sound of one rate at `RATE`; see `finite` for values that are none.

    `chunks` are the sound in pieces of any length. `rate` is its frames a second.
    """
    resampler = None if rate == RATE else soxr.ResampleStream(rate, RATE, 1, dtype="float32")
    for chunk in chunks:
        sound = finite(chunk)
        yield sound if resampler is None else resampler.resample_chunk(sound)
    if resampler is not None:
        yield resampler.resample_chunk(np.zeros(0, dtype=np.float32), last=True)


def finite(samples: Mono) -> Mono:
    """Return samples with silence for what is no number or infinite, none above `LOUDEST`."""
    numbers = np.nan_to_num(samples, nan=0.0, posinf=0.0, neginf=0.0)
    return np.clip(numbers, -LOUDEST, LOUDEST)


def regrouped(chunks: Iterable[Mono], size: int) -> Iterator[Mono]:
    """Yield the same sound in blocks of `size` frames; the last may be shorter, never empty."""
    waiting: list[Mono] = []
    frames = 0
    for chunk in chunks:
        waiting.append(chunk)
        frames += len(chunk)
        if frames >= size:
            joined = np.concatenate(waiting)
            whole = frames - frames % size
            yield from joined[:whole].reshape(-1, size)
            waiting, frames = [joined[whole:]], frames - whole
    if frames:
        yield np.concatenate(waiting)


def check_readable(path: Path, what: str = "take") -> None:
    """Raise a plain sentence for what the system has against reading a file.

    `what` is what it is, in a word.

    Raises
    ------
    TakeError
        If there is no such file, it is empty, or it may not be read.
    """
    try:
        about = path.stat()
        mode = about.st_mode
        if not stat.S_ISREG(mode):
            kind = "a folder" if stat.S_ISDIR(mode) else "a pipe or a device, and no file"
            raise TakeError(f"The {what} {path} cannot be read: it is {kind}.")
        if not about.st_size:
            raise TakeError(f"The {what} {path} cannot be read: the file is empty.")
        with path.open("rb"):
            pass
    except OSError as error:
        reason = REASONS.get(error.errno or 0, f"the system says: {error.strerror or error}.")
        raise TakeError(f"The {what} {path} cannot be read: {reason}") from error
