"""How much power a take has in each band of frequencies, about a thousand times a second.

A moment here is one short window, a millisecond after the one before it. The window is as long as
a thud takes to rise, so that its beginning is told to a fraction of a millisecond. The bands are
as narrow as that window allows at the low end, where voices and hum lie, and wider above. What is
below the lowest band, such as rumble, is for the most part in that band.
"""

from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from sounds.listening.rate import Mono

Powers: TypeAlias = npt.NDArray[np.float64]
"""Float64 of shape (moments, bands): mean square of the samples in each band."""

HOP_SECONDS: Final = 0.001
WINDOW_SECONDS: Final = 0.0053

EDGES: Final = (95, 280, 470, 660, 1030, 1400, 1970, 2720, 3840, 5340, 7590, 10780)
"""Of the bands, in Hz."""


class BandPowers:
    """Measures blocks one after another, whatever their lengths.

    `rate` is in frames a second. Bands that it cannot hold are left out.
    """

    def __init__(self, rate: int) -> None:
        self._hop = max(round(HOP_SECONDS * rate), 1)
        length = 2 * round(WINDOW_SECONDS * rate / 2)
        self._window = np.hanning(length + 2)[1:-1].astype(np.float32)
        bins = np.rint(np.array(EDGES) * length / rate + 0.5).astype(int)
        self._bins = np.unique(np.minimum(bins, length // 2 + 1))
        self._scale = 2.0 / (length * float(np.sum(self._window**2)))
        self._left = np.zeros(0, dtype=np.float32)
        self.period = self._hop / rate

    @property
    def bands(self) -> int:
        """How many bands there are."""
        return len(self._bins) - 1

    def push(self, block: Mono) -> Powers:
        """Return the powers of all moments that are complete with `block`.

        `block` is float32, shape (frames,); may be empty.

        Returns
        -------
        Powers
            Moment number n is centred on frame n times the hop, `period` seconds after the one
            before it. The first sample stands for what is before the take; the last moment is the
            last whose window is within it.
        """
        length = len(self._window)
        before = self._left if len(self._left) else np.repeat(block[:1], length // 2)
        samples = np.concatenate((before, block))
        count = max((len(samples) - length) // self._hop + 1, 0)
        self._left = samples[count * self._hop :]
        if not count:
            return np.zeros((0, self.bands))
        windows = np.lib.stride_tricks.sliding_window_view(samples, length)[:: self._hop]
        spectra = np.fft.rfft(windows[:count] * self._window, axis=1)
        spectra = spectra[:, self._bins[0] : self._bins[-1]]
        powers = spectra.real**2 + spectra.imag**2
        first = self._bins[:-1] - self._bins[0]
        return np.add.reduceat(powers, first, axis=1, dtype=np.float64) * self._scale
