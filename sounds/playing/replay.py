"""What a deck has played, once more: for those who have to know what was to be heard.

The commands are obeyed on the frames on which they were sent, which is where the other deck obeyed
them to within a few hundredths of a second; what begins, goes on or is said at a moment of its own
falls on the very frame.
"""

import math
from collections import deque
from typing import NamedTuple

import numpy as np

from sounds.placing.mixer import CHANNELS
from sounds.placing.moments import frame_at
from sounds.playing.deck import Deck
from sounds.playing.passage import Command
from sounds.voices.clip import Samples
from sounds.voices.clip_bank import ClipBank


class Sent(NamedTuple):
    """A command, and the moment of the deck's clock, in seconds, at which it was sent."""

    seconds: float
    command: Command


class Replay:
    """Plays commands again, on a clock of its own; satisfies `sounds.placing.mixer.Source`.

    Parameters
    ----------
    rate
        The deck's, in frames a second.
    seconds
        After which there is nothing more.
    """

    def __init__(self, rate: int, seconds: float = math.inf) -> None:
        self._deck = Deck(ClipBank(rate))
        self._rate = rate
        self._due: deque[Sent] = deque()
        self._end = math.inf if math.isinf(seconds) else frame_at(seconds, rate)

    def note(self, sent: Sent) -> None:
        """Take note of the next command; one that is told late is obeyed at once."""
        self._due.append(sent)

    def read(self, count: int) -> Samples:
        """Return the next frames, `count` or what is left: float32, shape (frames, 2)."""
        end = min(self._deck.position + count, self._end)
        parts = [np.zeros((0, CHANNELS), dtype=np.float32)]
        while self._deck.position < end:
            parts.append(self._deck.read(int(self._obey(end)) - self._deck.position))
        return np.concatenate(parts)

    def _obey(self, end: float) -> float:
        """Obey what is due; return the frame of the next command, `end` at the latest."""
        while self._due:
            frame = frame_at(self._due[0].seconds, self._rate)
            if frame > self._deck.position:
                return min(frame, end)
            self._deck.obey(self._due.popleft().command)
        return end
