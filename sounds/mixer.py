"""Placed sounds become blocks of samples, one after another, whatever the length of the piece.

The mixer holds the sounds that sound now and nothing else. Each sample is the sum of its sounds
in the order of their placement, so it does not depend on where blocks begin and end: what is
heard live is, bit for bit, what is written to a file.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from sounds.clip import Samples

CHANNELS = 2
FADE_SECONDS = 0.008
"""How long a sound that is cut takes to fade away: short, but no click of its own."""


@dataclass(frozen=True, slots=True, eq=False)
class Placement:
    """A sound at its place.

    Parameters
    ----------
    start
        The frame that the first of `samples` falls on, at least 0.
    samples
        Float32, shape (frames, 2).
    gain
        Linear factor.
    stop
        The frame by which the sound has faded to silence; None to let it end by itself.
    fade
        Length of that fade in frames.
    """

    start: int
    samples: Samples
    gain: float = 1.0
    stop: int | None = None
    fade: int = 0

    def heard(self) -> Samples:
        """Return the samples as they are heard: cut, faded and with their gain."""
        length = len(self.samples)
        if self.stop is not None:
            length = min(length, max(self.stop - self.start, 0))
        heard = self.samples[:length] * np.float32(self.gain)
        if length < len(self.samples):
            fade = min(self.fade, length)
            heard[length - fade :] *= falling(fade)[:, np.newaxis]
        return heard


def falling(frames: int) -> Samples:
    """Return `frames` factors that fall from near 1 to near 0 along half a cosine."""
    phase = (np.arange(frames) + 0.5) / max(frames, 1)
    return (0.5 + 0.5 * np.cos(np.pi * phase)).astype(np.float32)


class Source(Protocol):
    """Anything that hands out samples block by block, such as a mixer."""

    def read(self, count: int) -> Samples:
        """Return the next `count` frames: fewer at the end, none after it."""


class Mixer:
    """Adds placed sounds into blocks.

    Parameters
    ----------
    placements
        In order of `start`. Taken only as far as the blocks have come.
    frames
        Length of the whole; None to end with the last sound.
    """

    def __init__(self, placements: Iterable[Placement], frames: int | None = None) -> None:
        self._coming = iter(placements)
        self._next = next(self._coming, None)
        self._sounding: list[tuple[int, Samples]] = []
        self._frames = frames
        self.position = 0

    def read(self, count: int) -> Samples:
        """Return the next `count` frames: fewer at the end, none after it.

        Returns
        -------
        Samples
            Float32, shape (at most `count`, 2).
        """
        if self._frames is not None:
            count = min(count, self._frames - self.position)
        block = np.zeros((count, CHANNELS), dtype=np.float32)
        self._start_sounds(before=self.position + count)
        end = self.position
        for start, heard in self._sounding:
            end = max(end, self._add(start, heard, block))
        if self._frames is None and self._next is None:
            block = block[: end - self.position]
        self.position += len(block)
        self._sounding = [
            (start, heard) for start, heard in self._sounding if start + len(heard) > self.position
        ]
        return block

    def _start_sounds(self, before: int) -> None:
        while self._next is not None and self._next.start < before:
            self._sounding.append((self._next.start, self._next.heard()))
            following = next(self._coming, None)
            if following is not None and following.start < self._next.start:
                raise ValueError(
                    f"A sound placed at frame {following.start} came after one placed at frame "
                    f"{self._next.start}; placements must come in order of their start."
                )
            self._next = following

    def _add(self, start: int, heard: Samples, block: Samples) -> int:
        """Add the part of a sound that falls in `block`; return the frame where that part ends."""
        offset = start - self.position
        first, last = max(offset, 0), min(offset + len(heard), len(block))
        block[first:last] += heard[first - offset : last - offset]
        return self.position + last
