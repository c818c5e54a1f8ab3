"""When what a microphone hears was sounded, on the clock of the computer."""

from collections import deque
from statistics import median
from typing import Final

REMEMBERED: Final = 128
"""Pieces of sound over which the clocks are compared."""


class TakeClock:
    """Holds the frames of an input against the moments at which they came.

    Single moments are off by some milliseconds, and a few by far more on a busy machine, so that
    the median of the last ones counts. It follows an input that drifts or that has lost frames.

    `rate` is in frames a second.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._offsets: deque[float] = deque(maxlen=REMEMBERED)

    def note(self, frame: int, moment: float) -> None:
        """Take note that `frame` was sounded at `moment`, in seconds, about."""
        self._offsets.append(moment - frame / self._rate)

    def moment(self, seconds: float) -> float:
        """Return the moment of a time of the take, in seconds from its first frame."""
        return seconds + median(self._offsets)
