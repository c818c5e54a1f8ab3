"""What a take is like as a whole: how long, and how strong at each frequency."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from sounds.listening.rate import RATE, Mono

SPECTRUM_WINDOW: Final = 2_048
"""Frames of each spectrum that is averaged."""

FLOOR: Final = 1e-9
"""No frequency counts as weaker than this share of the strongest: digital silence is no noise."""

ROUNDING: Final = 4e-10
"""Mean square a bin of what rounding to 16 bits adds, and of what is no more than that."""

SILENCE: Final = 1e-12
"""Mean square below which a window is silent: what 16 bits hold at the least is 100 times more."""


@dataclass(frozen=True, slots=True, eq=False)
class BackgroundSpectrum:
    """What a take is like."""

    frames: int
    """How many frames the take has."""
    spectrum: npt.NDArray[np.float64] | None
    """Mean square a bin of its background, from 0 Hz to half of `RATE`, shape (`SPECTRUM_WINDOW` /
    2 + 1,): the mean of its logarithm over the take, which short sounds hardly move. None where all
    of the take is silent."""

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return self.frames / RATE

    def whitening(self, bins: int) -> npt.NDArray[np.float64]:
        """Return the factors that make its background white, of mean square 1.

        `bins` is how many bins there are from 0 Hz to half of `RATE`.

        Raises
        ------
        ValueError
            If all of the take is silent.
        """
        if self.spectrum is None:
            raise ValueError("Silence has no spectrum.")
        return whitening(self.spectrum, bins)


def whitening(spectrum: npt.NDArray[np.float64], bins: int) -> npt.NDArray[np.float64]:
    """Return the factors that make a spectrum flat, at `bins` frequencies of the same range.

    They are 0 beyond what a recorder of few frames a second, or few bits, has kept at all: of noise
    that is only rounding, nothing can be told.
    """
    floored = np.maximum(spectrum, FLOOR * spectrum.max())
    places = np.linspace(0.0, len(spectrum) - 1, bins)
    factors = 1 / np.sqrt(np.interp(places, np.arange(len(spectrum)), floored))
    factors[places > _highest(spectrum)] = 0.0
    return np.asarray(factors)


def _highest(spectrum: npt.NDArray[np.float64]) -> int:
    """Return the highest bin that was recorded: a recorder of few frames a second has no more."""
    recorded = np.flatnonzero(spectrum > ROUNDING)
    return int(recorded[-1]) if len(recorded) else len(spectrum) - 1


def background_spectrum(blocks: Iterable[Mono]) -> BackgroundSpectrum:
    """Return what a take is like.

    `blocks` are all of the sound, in blocks of any length; one window of each block is looked at.
    """
    window = np.hanning(SPECTRUM_WINDOW).astype(np.float32)
    frames = windows = 0
    logarithms = np.zeros(SPECTRUM_WINDOW // 2 + 1)
    for block in blocks:
        frames += len(block)
        sound = np.pad(block[:SPECTRUM_WINDOW], (0, max(SPECTRUM_WINDOW - len(block), 0))) * window
        if float(np.mean(sound**2)) > SILENCE:
            power = np.abs(np.fft.rfft(sound)) ** 2
            logarithms += np.log(power + FLOOR * power.max())
            windows += 1
    if not windows:
        return BackgroundSpectrum(frames, None)
    # The logarithm of a noise's power is less in the mean than that of its mean: by Euler's number.
    mean = np.exp(logarithms / windows + np.euler_gamma)
    return BackgroundSpectrum(frames, mean / float(np.sum(window**2)))
