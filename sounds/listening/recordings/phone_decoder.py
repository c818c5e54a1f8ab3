"""Recordings of phones and cameras (M4A, MP4, MOV, 3GP, WebM and others), decoded by PyAV.

PyAV is an extra and is loaded only when such a recording is opened.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt
import soxr

from sounds.errors import TakeError
from sounds.listening.rate import Mono

if TYPE_CHECKING:
    import av
    from av.audio.stream import AudioStream

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
