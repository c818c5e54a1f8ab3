"""Sample arrays: their layouts, the rate of takes, clips, sources of blocks, and resampling.

Sound to play is `Samples`, float32 of shape (frames, channels); takes are `Mono`, float32 of shape
(frames,), at `RATE`. Values are in [-1, 1]. Resampling is soxr's (band-limited interpolation).
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Final, Protocol, TypeAlias

import numpy as np
import numpy.typing as npt
import soxr

Samples: TypeAlias = npt.NDArray[np.float32]
"""Float32 of shape (frames, channels), values in [-1, 1]."""

Mono: TypeAlias = npt.NDArray[np.float32]
"""Float32 of shape (frames,), values in [-1, 1]."""

CHANNELS: Final = 2
"""Of all sound that is played."""

RATE: Final = 24_000
"""Sample rate in Hz of takes. Thuds, claps and clacks have next to nothing above 12 kHz, phones
that record compressed sound cut there or not far above, and half the frames take half the time."""


@dataclass(frozen=True, eq=False)
class Clip:
    """A short sound, and the frame of it that belongs on the beat."""

    samples: Samples
    """Shape (frames, 1) or (frames, 2)."""
    rate: int
    """Sample rate in Hz."""
    centre: int = 0
    """The frame that falls on the beat: a word's perceptual centre, a click's onset."""

    @property
    def frames(self) -> int:
        """Length in frames."""
        return len(self.samples)

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return self.frames / self.rate

    def at_rate(self, rate: int) -> "Clip":
        """Return this clip at a sample rate of `rate` Hz, with the centre at the nearest frame."""
        if rate == self.rate:
            return self
        samples = soxr.resample(self.samples, self.rate, rate, quality="VHQ")
        centre = min(round(self.centre * rate / self.rate), max(len(samples) - 1, 0))
        return replace(self, samples=samples, rate=rate, centre=centre)


def frame_at(seconds: float, rate: int) -> int:
    """Return the frame nearest to a time; the only place where seconds become frames."""
    return round(seconds * rate)


class Source(Protocol):
    """Something that hands out samples block by block, such as a mixer."""

    def read(self, count: int) -> Samples:
        """Return the next `count` frames: fewer at the end, none after it."""


def at_rate(
    blocks: Iterable[npt.NDArray[Any]], rate: int, wanted: float, channels: int, quality: str = "HQ"
) -> Iterator[npt.NDArray[np.float32]]:
    """Yield sound of a sample rate at another, in blocks of different lengths.

    Blocks have the shape (frames,) for one channel, else (frames, channels). Rates are in Hz;
    `wanted` need not be whole. `quality` is a name that soxr knows.
    """
    if rate == wanted:
        yield from blocks
        return
    resampler = soxr.ResampleStream(rate, wanted, channels, dtype="float32", quality=quality)
    for block in blocks:
        yield resampler.resample_chunk(block)
    nothing = np.zeros((0, channels) if channels > 1 else 0, dtype=np.float32)
    yield resampler.resample_chunk(nothing, last=True)
