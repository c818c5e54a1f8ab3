"""The call as a deck plays it, at the rate at which takes are listened to."""

from typing import Final

import numpy as np
import soxr

from sounds.listening.microphones.take_clock import TakeClock
from sounds.listening.rate import RATE
from sounds.placing.mixer import CHANNELS
from sounds.playing.replay import Replay, Sent
from sounds.voices.clip import Samples

KEPT: Final = 30 * RATE
"""Frames of the call that can still be asked for."""


class DeckCall:
    """Follows a deck by what it is sent and by what it says is heard of it.

    `rate` is the deck's, in frames a second.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._replay = Replay(rate)
        self._resampler = soxr.ResampleStream(rate, RATE, CHANNELS, dtype="float32")
        self._clock = TakeClock(rate)
        self._known = False
        self._first = 0
        self._samples = np.zeros((0, CHANNELS), dtype=np.float32)

    @property
    def is_placed(self) -> bool:
        """Whether it is known when it is heard."""
        return self._known

    def note(self, sent: Sent) -> None:
        """Take note of a command to the deck."""
        self._replay.note(sent)

    def hear(self, seconds: float, moment: float) -> None:
        """Take note that so much of the deck's clock is heard at a moment of the computer's."""
        self._clock.note(round(seconds * self._rate), moment)
        self._known = True

    def frame_at(self, moment: float) -> int:
        """Return the frame, at `RATE` and on the deck's clock, that is heard at a moment."""
        return round((moment - self._clock.moment(0.0)) * RATE)

    def read(self, start: int, count: int) -> Samples:
        """Return frames of the call, silence where it had not begun or is no longer known.

        The result is float32, shape (`count`, 2).
        """
        self._play_until(start + count)
        skipped = min(max(self._first - start, 0), count)
        first = max(start - self._first, 0)
        silence = np.zeros((skipped, CHANNELS), dtype=np.float32)
        return np.concatenate((silence, self._samples[first : first + count - skipped]))

    def _play_until(self, frame: int) -> None:
        parts = [self._samples]
        end = self._first + len(self._samples)
        while end < frame:
            played = self._replay.read(self._rate // 10)
            parts.append(self._resampler.resample_chunk(played))
            end += len(parts[-1])
        samples = np.concatenate(parts)
        self._first += max(len(samples) - KEPT, 0)
        self._samples = samples[-KEPT:]
