"""What the take asks of whatever decodes a recording.

Recordings that libsndfile decodes: WAV, RF64, AIFF, CAF, FLAC, OGG, MP3 and others.

Recordings of phones and cameras (M4A, MP4, MOV, 3GP, WebM and others), decoded by PyAV.

PyAV is an extra and is loaded only when such a recording is opened.
"""

import errno
import stat
from collections.abc import Iterable, Iterator
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

from throwcount.sounds.child_process import native_chatter_discarded
from throwcount.sounds.errors import TakeError
from throwcount.sounds.samples import RATE, Mono, Samples

if TYPE_CHECKING:
    import av
    from av.audio.stream import AudioStream


class UnknownFormatError(Exception):
    """A decoder does not know a file's format; another one may."""


class Decoder(Protocol):
    """A recording that can be decoded from its beginning as often as needed."""

    @property
    def path(self) -> Path:
        """Where it is."""

    @property
    def rate(self) -> int:
        """Sample rate."""

    @property
    def seconds(self) -> float | None:
        """Length as its header tells it; None if it tells none."""

    @property
    def lost_seconds(self) -> float:
        """How much of it the last reading found damaged and replaced by silence."""

    def chunks(self) -> Iterator[Mono]:
        """Yield the average of its channels, piece by piece, to the end or to where it breaks off.

        Values may be infinite or no numbers.

        Raises
        ------
        UnknownFormatError, TakeError
            If the file is not what it was any more.
        """


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


INSTALL: Final = "`pip install '.[phone]'`"

MISSING: Final = (
    "The take {path} is no WAV, FLAC, OGG or MP3. If it is what a phone or camera recorded, it can "
    f"be read once PyAV is there: {INSTALL}."
)

GAP_SECONDS: Final = 0.05
"""Sound missing between two frames from which on silence takes its place, so that what comes
after is not early. Less is within the rounding of some formats' clocks."""

LONGEST_GAP_SECONDS: Final = 600.0
"""A longer gap is a clock that jumped, and is not filled."""


class PhoneDecoder:
    """A recording that PyAV decodes.

    Raises
    ------
    TakeError
        If PyAV is not installed, or does not know the format either, or finds no sound in it.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.lost_seconds = 0.0
        self._av = _library(path)
        with self._open() as container:
            stream = self._stream(container)
            self.rate = stream.rate
            self.seconds = _seconds(container, stream)

    def chunks(self) -> Iterator[Mono]:
        """Yield the average of its channels, to the end or to where it breaks off.

        Where frames in the middle are lost or damaged there is silence, so that times hold.
        """
        self.lost_seconds = 0.0
        due: float | None = None
        with self._open() as container:
            for frame in self._frames(container):
                if frame.time is not None:
                    yield self._silence(0.0 if due is None else frame.time - due)
                    due = frame.time + frame.samples / frame.sample_rate
                yield _at_rate(_mono(frame), frame.sample_rate, self.rate)

    def _frames(self, container: "av.container.InputContainer") -> Iterator["av.AudioFrame"]:
        """Yield what can be decoded, leaving out packets that cannot."""
        packets = container.demux(self._stream(container))
        while True:
            try:
                packet = next(packets, None)
            except self._av.FFmpegError:
                return
            if packet is None:
                return
            try:
                frames = packet.decode()
            except self._av.FFmpegError:
                continue
            for frame in frames:
                if frame.samples:
                    yield frame

    def _silence(self, seconds: float) -> Mono:
        """Return what takes the place of missing sound."""
        if not GAP_SECONDS < seconds < LONGEST_GAP_SECONDS:
            seconds = 0.0
        self.lost_seconds += seconds
        return np.zeros(round(seconds * self.rate), dtype=np.float32)

    def _open(self) -> "av.container.InputContainer":
        try:
            # An absolute path is never taken for an address.
            container: av.container.InputContainer = self._av.open(str(self.path.absolute()))
        except self._av.FFmpegError as error:
            raise TakeError(
                f"The take {self.path} cannot be read: it is damaged, or it is no recording."
            ) from error
        return container

    def _stream(self, container: "av.container.InputContainer") -> "AudioStream":
        if not container.streams.audio:
            raise TakeError(
                f"The take {self.path} has no sound: it is a video without, or no recording."
            )
        return container.streams.audio[0]


def _library(path: Path) -> Any:  # noqa: ANN401 - a module
    try:
        import av  # noqa: PLC0415 - an extra, and slow to load
    except ImportError as error:
        raise TakeError(MISSING.format(path=path)) from error
    return av


def _seconds(container: "av.container.InputContainer", stream: "AudioStream") -> float | None:
    """Return the length that the header tells."""
    if stream.duration is not None and stream.time_base is not None:
        return float(stream.duration * stream.time_base)
    return None if container.duration is None else container.duration / 1e6


def _mono(frame: "av.AudioFrame") -> Mono:
    """Return the average of a frame's channels, with values in [-1, 1]."""
    samples: npt.NDArray[Any] = frame.to_ndarray()
    if not frame.format.is_planar:
        samples = samples.reshape(-1, len(frame.layout.channels)).T
    mean: npt.NDArray[np.float64] = samples.mean(axis=0, dtype=np.float64)
    if samples.dtype.kind == "u":  # silence is half the range
        mean -= 2.0 ** (8 * samples.itemsize - 1)
    if samples.dtype.kind in "iu":
        mean /= 2.0 ** (8 * samples.itemsize - 1)
    return mean.astype(np.float32)


def _at_rate(samples: Mono, rate: int, wanted: int) -> Mono:
    """Return a frame whose rate is not what the header told at the rate that it told."""
    if rate == wanted:
        return samples
    return np.asarray(soxr.resample(samples, rate, wanted), dtype=np.float32)


LOWEST_RATE: Final = 4_000
"""Sample rate in Hz below which a catch cannot be told from a thump; phones use 8,000 and more."""

HIGHEST_RATE: Final = 1_000_000
"""Sample rate in Hz above which a file's header is not to be believed."""

LOUDEST: Final = 1e6
"""Values of floating-point files beyond this are cut, so that no power of them overflows."""

REASONS: Final = {
    errno.ENOENT: "there is no such file.",
    errno.ENOTDIR: "part of the path to it is a file and no folder.",
    errno.EACCES: "you have no permission to read it.",
    errno.EPERM: "you have no permission to read it.",
}
"""What the system's error numbers mean here."""


def resampled(chunks: Iterable[Mono], rate: int) -> Iterator[Mono]:
    """Yield sound of one rate at `RATE`; see `finite` for values that are none.

    `chunks` are the sound in pieces of any length. `rate` is its sample rate in Hz.
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
