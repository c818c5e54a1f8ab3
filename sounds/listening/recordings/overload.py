"""Whether a take is too loud for its recorder, or nothing at all."""

from collections.abc import Iterable, Iterator
from typing import Final

import numpy as np

from sounds.listening.rate import RATE, Mono

FULL: Final = 0.97
"""What counts as full scale; resampling and lossy formats leave a ripple on what is clipped."""

IN_A_ROW: Final = 3
"""Frames in a row at full scale that are clipped, and no single peak."""

SHARE: Final = 0.1
FEWEST: Final = 3
"""The share of the seconds, and how many at least, in which a take is clipped when it is told."""

SILENT: Final = 1e-5
"""The highest value of what is silence: a third of the smallest step of 16 bits."""


class Overload:
    """Watches a take as it is read."""

    def __init__(self) -> None:
        self.frames = 0
        """Frames that were read."""
        self._peak = 0.0
        self._seconds: set[int] = set()

    @property
    def seconds(self) -> int:
        """In how many seconds it is clipped."""
        return len(self._seconds)

    @property
    def told(self) -> bool:
        """Whether it is clipped so often that a person should know."""
        return self.seconds >= max(FEWEST, SHARE * self.frames / RATE)

    @property
    def silent(self) -> bool:
        """Whether nothing is on it."""
        return self._peak < SILENT

    def watched(self, blocks: Iterable[Mono]) -> Iterator[Mono]:
        """Yield the blocks of a take as they are."""
        for block in blocks:
            self._watch(block)
            yield block

    def _watch(self, block: Mono) -> None:
        level = np.abs(block)
        self._peak = max(self._peak, float(level.max(initial=0.0)))
        full = level >= FULL
        if full.any():
            together = np.logical_and.reduce(
                [full[offset : len(full) - IN_A_ROW + 1 + offset] for offset in range(IN_A_ROW)]
            )
            places = (self.frames + np.flatnonzero(together)) // RATE
            self._seconds.update(places.tolist())
        self.frames += len(block)
