"""When music is lower because somebody speaks.

It falls to its ducked level before a word begins and rises again after it. Words that follow each
other within `BRIDGED` seconds are one stretch, through which the music stays low: with a count on
every beat it does not heave up and down between the words.
"""

from collections import deque
from typing import Final

import numpy as np
import numpy.typing as npt

ATTACK: Final = 0.15
"""Seconds in which music falls, over when the word begins: gentle, and still not heard as early."""

RELEASE: Final = 0.6
"""Seconds in which it rises again."""

BRIDGED: Final = 2.0
"""Seconds between two words through which it stays low: longer than from one word to the next of
a count on every beat at 40 beats a minute."""


class Ducking:
    """How far music is ducked, from the words as they come.

    `rate` is in frames a second.
    """

    def __init__(self, rate: int) -> None:
        self._attack = round(ATTACK * rate)
        self._release = round(RELEASE * rate)
        self._bridged = round(BRIDGED * rate)
        self._stretches: deque[tuple[int, int]] = deque()

    @property
    def foresight(self) -> int:
        """How many frames ahead words must be known for the depth to be settled."""
        return max(self._attack, self._bridged)

    def speak(self, start: int, end: int) -> None:
        """Take in a word from frame `start` to before frame `end`; words come in order of start."""
        if self._stretches and start - self._stretches[-1][1] < self._bridged:
            first, last = self._stretches.pop()
            start, end = first, max(last, end)
        self._stretches.append((start, end))

    def forget(self, before: int) -> None:
        """Drop what bears on no frame from `before` on."""
        while len(self._stretches) > 1 and self._stretches[0][1] + self._release < before:
            self._stretches.popleft()

    def depth(self, first: int, last: int) -> npt.NDArray[np.float32] | float:
        """Return how far music is ducked from frame `first` to before frame `last`.

        Returns
        -------
        ndarray or float
            From 0, not at all, to 1, wholly; one number where it is the same throughout.
        """
        for start, end in self._stretches:
            if start <= first and last <= end:
                return 1.0
        near = [
            (start, end)
            for start, end in self._stretches
            if start - self._attack < last and end + self._release > first
        ]
        if not near:
            return 0.0
        frames = np.arange(first, last, dtype=np.float64)
        depths = [self._slopes(frames, start, end) for start, end in near]
        return np.asarray(np.max(depths, axis=0), dtype=np.float32)

    def _slopes(
        self, frames: npt.NDArray[np.float64], start: int, end: int
    ) -> npt.NDArray[np.float64]:
        """Return the depth that one stretch asks for: half a cosine down, and another one up."""
        falling = (frames - (start - self._attack)) / self._attack
        rising = (end + self._release - frames) / self._release
        progress = np.clip(np.minimum(falling, rising), 0.0, 1.0)
        return np.asarray(0.5 - 0.5 * np.cos(np.pi * progress))
