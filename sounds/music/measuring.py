"""Loudness and true peak of sound that comes piece by piece (ITU-R BS.1770).

Integrated loudness: K-weighted power of blocks of 400 ms, a new one every 100 ms; the mean over
those above -70 LKFS and then over those no more than 10 LU below that mean.
"""

from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt
import soxr

from sounds.placing.mixer import CHANNELS
from sounds.voices.clip import Samples
from sounds.voices.loudness import OVERSAMPLING, k_response, level_of

STEPS_A_SECOND: Final = 10
STEPS_A_BLOCK: Final = 4
"""A block of 400 ms overlaps the next by three quarters."""

ABSOLUTE_GATE: Final = -70.0
RELATIVE_GATE: Final = -10.0

TRANSFORM: Final = 1 << 16
"""Frames of the transforms that weight a segment and what rings into it; the quickest size."""

RINGING_SECONDS: Final = 0.15
"""How long the filters ring: the high pass has fallen by more than 250 dB after it."""


class Meter:
    """Measures stereo sound as it is handed over.

    `rate` is in frames a second.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._ringing = round(RINGING_SECONDS * rate)
        self._segment = TRANSFORM - self._ringing
        self._before: Samples = np.zeros((self._ringing, CHANNELS), dtype=np.float32)
        self._waiting: list[Samples] = []
        self._frames_waiting = 0
        self._position = 0
        self._energy = 0.0
        self._steps: list[float] = []
        self._between = soxr.ResampleStream(
            rate, OVERSAMPLING * rate, CHANNELS, dtype="float32", quality="HQ"
        )
        self._peak = 0.0

    def take(self, samples: Samples) -> None:
        """Take in the next frames, shape (frames, 2), all finite."""
        self._note_peak(samples)
        self._note_peak(self._between.resample_chunk(samples))
        while len(samples):
            room = self._segment - self._frames_waiting
            self._waiting.append(samples[:room])
            self._frames_waiting += len(self._waiting[-1])
            samples = samples[room:]
            if self._frames_waiting == self._segment:
                self._weigh()

    def finish(self) -> tuple[float, float]:
        """Return the integrated loudness in LKFS and the true peak, linear; no more can be taken.

        Sound that is shorter than a block counts as one.
        """
        nothing = np.zeros((0, CHANNELS), dtype=np.float32)
        self._note_peak(self._between.resample_chunk(nothing, last=True))
        self._weigh()
        if len(self._steps) < STEPS_A_BLOCK:
            frames = self._position or 1
            return level_of((sum(self._steps) + self._energy) / frames), self._peak
        return integrated(np.array(self._steps), self._rate), self._peak

    def _note_peak(self, samples: Samples) -> None:
        self._peak = max(self._peak, float(np.max(np.abs(samples), initial=0.0)))

    def _weigh(self) -> None:
        """Weight what waits, with what came before it still ringing in the filters."""
        samples = np.concatenate((self._before, *self._waiting))
        self._before = samples[len(samples) - self._ringing :]
        self._waiting, self._frames_waiting = [], 0
        channels = np.ascontiguousarray(samples.T, dtype=np.float64)
        spectrum = np.fft.rfft(channels, TRANSFORM) * k_response(TRANSFORM, self._rate)
        # What rings on at the end of the transform comes round to its beginning, and is left out.
        weighted = np.fft.irfft(spectrum, TRANSFORM)[:, self._ringing : len(samples)]
        self._add_steps((weighted**2).sum(axis=0))

    def _add_steps(self, power: npt.NDArray[np.float64]) -> None:
        """Sum the power of frames into steps of 100 ms; the last is as a rule begun only."""
        end = self._position + len(power)
        marks = [0]
        while (mark := self._end_of_step(len(self._steps) + len(marks))) <= end:
            marks.append(mark - self._position)
        sums = [float(power[first:last].sum()) for first, last in pairwise(marks)]
        if sums:
            sums[0] += self._energy
            self._energy = 0.0
        self._energy += float(power[marks[-1] :].sum())
        self._steps += sums
        self._position = end

    def _end_of_step(self, count: int) -> int:
        """Return the frame that the first `count` steps end before."""
        return round(count * self._rate / STEPS_A_SECOND)


def integrated(steps: npt.NDArray[np.float64], rate: int) -> float:
    """Return the integrated loudness, in LKFS; -inf where all is below the absolute gate.

    `steps` are the energies (sum of the K-weighted power over channels and frames) of every 100 ms,
    at least `STEPS_A_BLOCK` of them. `rate` is in frames a second.
    """
    power = np.convolve(steps, np.ones(STEPS_A_BLOCK), "valid")
    power /= STEPS_A_BLOCK * rate / STEPS_A_SECOND
    power = power[power > power_of(ABSOLUTE_GATE)]
    if not len(power):
        return -np.inf
    power = power[power > power_of(level_of(float(power.mean())) + RELATIVE_GATE)]
    return level_of(float(power.mean()))


def power_of(level: float) -> float:
    """Return the K-weighted power that a level in LKFS stands for; see `level_of`."""
    return float(10 ** ((level - level_of(1.0)) / 10))
