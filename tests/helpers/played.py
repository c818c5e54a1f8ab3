"""Calls and takes that are in memory, as the program reads them."""

from collections.abc import Iterator
from dataclasses import dataclass

from takes import CallSound

from throwcount.sounds.echo.played_call import PlayedCall
from throwcount.sounds.samples import Mono, Samples


class InMemory:
    """Hands out samples, shape (frames, 2), as a mixer does."""

    def __init__(self, samples: Samples) -> None:
        self._samples = samples
        self._next = 0

    def read(self, count: int) -> Samples:
        """Return the next `count` frames: fewer at the end, none after it."""
        block = self._samples[self._next : self._next + count]
        self._next += len(block)
        return block


@dataclass(frozen=True, eq=False)
class Recorded:
    """A take of these samples, shape (frames,)."""

    samples: Mono

    def blocks(self, size: int) -> Iterator[Mono]:
        """Yield all of it, in blocks of `size` frames; the last may be shorter."""
        for start in range(0, len(self.samples), size):
            yield self.samples[start : start + size]


def played(call: CallSound) -> PlayedCall:
    """Return what the speakers were given."""
    return PlayedCall(lambda: InMemory(call.samples), call.rate)
