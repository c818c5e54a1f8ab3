"""The call's own sound, as the speakers were given it, on the clock of a take."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import soxr

from sounds.listening.rate import RATE
from sounds.placing.mixer import CHANNELS, Source
from sounds.voices.clip import Samples

BLOCK: Final = 16_384
"""Frames that are asked for at a time."""


@dataclass(frozen=True, slots=True, eq=False)
class PlayedCall:
    """What the speakers were given."""

    start: Callable[[], Source]
    """Returns the sound from its beginning, each time it is called: stereo, its first frame at the
    call's time 0."""
    rate: int
    """Frames a second of that sound."""

    def blocks(self, rate: float = RATE) -> Iterator[Samples]:
        """Yield the whole sound at another rate, in blocks of different lengths.

        `rate` is in frames a second, which need not be whole.

        Yields
        ------
        Samples
            Float32, shape (frames, 2).
        """
        source = self.start()
        if rate == self.rate:
            while len(block := source.read(BLOCK)):
                yield block
            return
        resampler = soxr.ResampleStream(self.rate, rate, CHANNELS, dtype="float32")
        while len(block := source.read(BLOCK)):
            yield resampler.resample_chunk(block)
        yield resampler.resample_chunk(np.zeros((0, CHANNELS), dtype=np.float32), last=True)


class Playback:
    """A call on the clock of a take, frame by frame of the take; silence before and after it.

    `delay` is the take time of the call's time 0, in seconds. It is met to half a frame. `drift` is
    how much faster the take's clock ran, in parts in a million.
    """

    def __init__(self, call: PlayedCall, delay: float, drift: float) -> None:
        first = round(delay * RATE)
        self._blocks = call.blocks(RATE * (1 + drift * 1e-6))
        self._waiting = _silence(max(first, 0))
        self.over = False
        """Whether there is nothing but silence from here on."""
        self.skip(max(-first, 0))

    def read(self, count: int) -> Samples:
        """Return the next `count` frames of the take's clock.

        The result is float32, shape (`count`, 2).
        """
        parts = [self._waiting[:count]]
        left = self._waiting[count:]
        missing = count - len(parts[0])
        while missing and not self.over:
            block = next(self._blocks, None)
            if block is None:
                self.over = True
                break
            parts.append(block[:missing])
            left = block[missing:]
            missing -= len(parts[-1])
        self._waiting = left
        return np.concatenate([*parts, _silence(missing)])

    def skip(self, count: int) -> None:
        """Pass over the next `count` frames."""
        while count and not self.over:
            count -= len(self.read(min(count, BLOCK)))


def _silence(count: int) -> Samples:
    return np.zeros((count, CHANNELS), dtype=np.float32)
