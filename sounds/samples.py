"""One short sound, and the frame of it that belongs on the beat.

What every take is brought to before it is listened to.
"""

from dataclasses import dataclass, replace
from typing import Final, Protocol, TypeAlias

import numpy as np
import numpy.typing as npt
import soxr

Samples: TypeAlias = npt.NDArray[np.float32]
"""Float32 of shape (frames, channels), values in [-1, 1]."""


@dataclass(frozen=True, eq=False)
class Clip:
    """A sound with its perceptual centre."""

    samples: Samples
    """Float32, shape (frames, 1) or (frames, 2)."""
    rate: int
    """Sample rate."""
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
        """Return this clip at a sample rate of `rate` Hz, its centre at the nearest frame."""
        if rate == self.rate:
            return self
        samples = soxr.resample(self.samples, self.rate, rate, quality="VHQ")
        centre = min(round(self.centre * rate / self.rate), max(len(samples) - 1, 0))
        return replace(self, samples=samples, rate=rate, centre=centre)


RATE: Final = 24_000
"""Sample rate. Thuds, claps and clacks have next to nothing above 12 kHz, phones that record
compressed sound cut there or not far above, and half the frames take half the time."""

Mono: TypeAlias = npt.NDArray[np.float32]
"""Float32 of shape (frames,), values in [-1, 1]."""


def frame_at(seconds: float, rate: int) -> int:
    """Return the frame nearest to a moment; the only place where seconds become frames."""
    return round(seconds * rate)


CHANNELS = 2


class Source(Protocol):
    """Anything that hands out samples block by block, such as a mixer."""

    def read(self, count: int) -> Samples:
        """Return the next `count` frames: fewer at the end, none after it."""
