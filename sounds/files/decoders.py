"""Recordings decoded to mono, block by block.

libsndfile decodes WAV, RF64, AIFF, CAF, FLAC, OGG, MP3 and others. PyAV decodes what phones and
cameras record (M4A, MP4, MOV, 3GP, WebM and others); it is an extra, and loaded only when such a
recording is opened.
"""

import errno
from collections.abc import Iterable, Iterator
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

from throwcount.sounds.child_process import native_chatter_discarded
from throwcount.sounds.errors import InputError, SoundError, TakeError
from throwcount.sounds.files.whole_files import open_input
from throwcount.sounds.samples import RATE, Mono, Samples, at_rate

if TYPE_CHECKING:
    import av
    from av.audio.stream import AudioStream


class UnknownFormatError(Exception):
    """A decoder does not know a file's format; another decoder may."""


class Decoder(Protocol):
    """A recording that can be decoded from its beginning as often as needed."""

    @property
    def path(self) -> Path:
        """Where the file is."""

    @property
    def rate(self) -> int:
        """Sample rate in Hz."""

    @property
    def seconds(self) -> float | None:
        """Length by its header; None if that has none."""

    @property
    def lost_seconds(self) -> float:
        """Length of the damaged parts that the last reading replaced by silence."""

    def chunks(self) -> Iterator[Mono]:
        """Yield the average of the channels, to the end or to where the file breaks off.

        Values may be infinite or not numbers.

        Raises
        ------
        UnknownFormatError, TakeError
            If the file has changed since it was opened.
        """


CHUNK: Final = 8_192
"""Frames decoded at a time. Up to this many are lost before a break in the file."""

UNKNOWN_FRAMES: Final = 2**63 - 1
"""libsndfile's length for a header without one, as in FLAC that was never finished."""

HEADERLESS: Final = ".raw"
"""The ending of files that soundfile takes for bare samples, of which nothing is known."""


class ForwardFile(soundfile.SoundFile):  # type: ignore[misc] # soundfile has no types
    """A file that is read from its beginning to its end.

    In a seekable file soundfile seeks after every read to where it already is. This makes an MP3
    decoder forget what it needs for the next frames, which come out softer or silent; in other
    formats it takes time.
    """

    def seekable(self) -> bool:
        """Return False, so that soundfile does not seek."""
        return False

    def decoded(self, count: int) -> Samples:
        """Return the next `count` frames, fewer at the end; none where they cannot be decoded."""
        # libmpg123 reports damaged frames on standard error, while it decodes.
        with native_chatter_discarded() if self.format == "MP3" else nullcontext():
            try:
                samples: Samples = self.read(count, dtype="float32", always_2d=True)
            except soundfile.LibsndfileError:
                return np.zeros((0, self.channels), dtype=np.float32)
        return samples


class SndfileDecoder:
    """A recording that libsndfile decodes.

    Raises
    ------
    UnknownFormatError
        If libsndfile does not know its format, or it is damaged from its beginning.
    """

    lost_seconds = 0.0  # libsndfile stops where a file is damaged

    def __init__(self, path: Path) -> None:
        if path.suffix.lower() == HEADERLESS:
            raise UnknownFormatError
        self.path = path
        with self._open() as file:
            self.rate = int(file.samplerate)
            known = file.frames < UNKNOWN_FRAMES
            self.seconds = file.frames / file.samplerate if known else None

    def chunks(self) -> Iterator[Mono]:
        """Yield the average of the channels, to the end or to where the file breaks off."""
        with self._open() as file:
            while len(samples := file.decoded(CHUNK)):
                yield samples.mean(axis=1)

    def _open(self) -> ForwardFile:
        try:
            with native_chatter_discarded():
                return ForwardFile(str(self.path))
        except soundfile.LibsndfileError as error:
            raise UnknownFormatError from error


INSTALL: Final = "`pip install '.[phone]'`"

MISSING: Final = (
    "The take {path} is not a WAV, FLAC, OGG or MP3 file. If a phone or camera recorded it, it can "
    f"be read once PyAV is installed: {INSTALL}."
)

DAMAGED: Final = "The take {path} cannot be read: it is damaged, or it is not a recording."

GAP_SECONDS: Final = 0.05
"""A longer gap between two frames is filled with silence, so that what follows is not early. Less
is within the rounding of some formats' clocks."""

LONGEST_GAP_SECONDS: Final = 600.0
"""A longer gap means that the clock jumped, and is not filled."""


class PhoneDecoder:
    """A recording that PyAV decodes.

    Raises
    ------
    TakeError
        If PyAV is not installed, does not know the format either, or finds no sound.
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
        """Yield the average of the channels, to the end or to where the file breaks off.

        Silence replaces lost or damaged frames in the middle, so that times stay right.
        """
        self.lost_seconds = 0.0
        due: float | None = None
        with self._open() as container:
            for frame in self._frames(container):
                if frame.time is not None:
                    yield self._silence(0.0 if due is None else frame.time - due)
                    due = frame.time + frame.samples / frame.sample_rate
                sound = _mono(frame)
                if frame.sample_rate != self.rate:  # as the header gives it
                    sound = soxr.resample(sound, frame.sample_rate, self.rate)
                yield sound

    def _frames(self, container: "av.container.InputContainer") -> Iterator["av.AudioFrame"]:
        """Yield the frames of all packets that can be decoded."""
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
        """Return the silence that fills a gap."""
        if not GAP_SECONDS < seconds < LONGEST_GAP_SECONDS:
            seconds = 0.0
        self.lost_seconds += seconds
        return np.zeros(round(seconds * self.rate), dtype=np.float32)

    def _open(self) -> "av.container.InputContainer":
        try:
            # An absolute path is never taken for a URL.
            container: av.container.InputContainer = self._av.open(
                str(self.path.absolute()), metadata_errors="replace"
            )
        except self._av.FFmpegError as error:
            raise TakeError(DAMAGED.format(path=self.path)) from error
        return container

    def _stream(self, container: "av.container.InputContainer") -> "AudioStream":
        if not container.streams.audio:
            raise TakeError(
                f"The take {self.path} has no sound: it is a silent video, or not a recording."
            )
        stream = container.streams.audio[0]
        if stream.codec_context is None:  # PyAV knows no decoder for it
            raise TakeError(DAMAGED.format(path=self.path))
        return stream


def _library(path: Path) -> Any:  # noqa: ANN401 - a module
    try:
        import av  # noqa: PLC0415 - an extra, and slow to load
    except ImportError as error:
        raise TakeError(MISSING.format(path=path)) from error
    return av


def _seconds(container: "av.container.InputContainer", stream: "AudioStream") -> float | None:
    """Return the length by the header."""
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


LOWEST_RATE: Final = 4_000
"""Lowest sample rate in Hz; below it a catch sounds like any thump. Phones use 8,000 up."""

HIGHEST_RATE: Final = 1_000_000
"""Highest sample rate in Hz; a header with more is not to be believed."""

LOUDEST: Final = 1e6
"""Larger values of floating-point files are clipped, so that no power of them overflows."""

REASONS: Final = {
    errno.ENOENT: "there is no such file.",
    errno.ENOTDIR: "part of the path to it is a file, not a folder.",
    errno.EACCES: "you have no permission to read it.",
    errno.EPERM: "you have no permission to read it.",
}
"""What the system's error numbers mean for reading."""


def resampled(chunks: Iterable[Mono], rate: int) -> Iterator[Mono]:
    """Yield sound with a sample rate of `rate` Hz at `RATE`, each value made finite."""
    return at_rate(map(finite, chunks), rate, RATE, 1)


def finite(samples: Mono) -> Mono:
    """Return samples with 0 for values that are infinite or not numbers, clipped at `LOUDEST`."""
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


def check_readable(path: Path, what: str = "take", kind: type[SoundError] = TakeError) -> None:
    """Check that there is a file with something in it that may be read.

    `what` is what the file is called in the error.

    Raises
    ------
    SoundError
        Of the kind given, if it cannot be read.
    """
    reason = ""
    try:
        with open_input(path) as file:
            if not file.read(1):
                reason = "the file is empty."
    except InputError as error:
        reason = f"it is {error.kind}."
    except OSError as error:
        reason = REASONS.get(error.errno or 0, f"the system says: {error.strerror or error}.")
    if reason:
        raise kind(f"The {what} {path} cannot be read: {reason}")
