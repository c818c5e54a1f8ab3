"""An adaptive filter that learns what speakers, room and microphone make of the call.

The call reaches the microphone through a linear filter for each speaker, as long as the room's
response. Small loudspeakers that play loud are not linear: they compress peaks, which adds
something mostly in proportion to the cube of the input, the first odd term of any symmetric curve;
a filter of its own leads from there.

This is a block frequency-domain adaptive filter (Ferrara, Fast implementation of LMS adaptive
filters, IEEE Trans. ASSP 28, 1980) with overlap-save and a constraint on the filters' length. It
goes towards least squares by steps normalised, frequency by frequency, by the inputs' cross-powers,
summed over so long a time that other sounds on the take average out. The residual is whitened and
clipped at a few times its usual level, so that a thud on a click hardly counts (Huber, Robust
estimation of a location parameter, Ann. Math. Stat. 35, 1964).

If the drift that was found is wrong by one part in a million, the clocks are a frame apart after 40
s, too much for high frequencies. So the delay that remains is estimated block by block, by least
squares on the slope of the expected sound, and a line through the last minute of it is corrected
for.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from throwcount.sounds.echo.clocks import Clocks, fitted
from throwcount.sounds.echo.matching import background_spectrum
from throwcount.sounds.samples import CHANNELS, RATE, Mono, Samples

Spectra: TypeAlias = npt.NDArray[np.complexfloating]

BLOCK: Final = 8_192
"""Frames of a block, which lasts 0.34 s."""

BINS: Final = BLOCK + 1
"""Number of frequencies in the spectrum of two blocks."""

LEAD: Final = 240
"""Frames by which the call is given early, so that the filters hold all of the direct sound even if
the clocks drift. At most 10 ms."""

LENGTH: Final = BLOCK - LEAD
"""Frames of a filter: a block less the room for drift."""

CLIPPED_AT: Final = 3.0
"""Level at which the whitened residual is clipped, in standard deviations."""

ROUNDS: Final = 6
"""How often filters and delay are first improved in turn."""

STEP: Final = 1.7
"""Step size of the filters. A block gives the residual of one block but the powers of two, so its
products are half of what the powers need, and a step of 2 would be a full one."""

MEMORY: Final = round(60 * RATE / BLOCK)
"""Blocks after which what was learnt has faded, since people move and rooms change."""

INPUTS: Final = CHANNELS + 1
"""Inputs of the filters: both channels, and the cube of their sum."""

REGULARISATION: Final = (0.04, 0.04, 1.0)
"""For each input, a share of its mean power that is added at each frequency, so that where it is
weak the background is not taken for the room's response. The cube gets more, since many
loudspeakers need none."""

TINY: Final = 1e-30
"""Added where nothing was played, against division by zero."""

MOST_UNCERTAIN: Final = 1e-4
"""Largest standard deviation, in seconds, of a block's delay that counts."""


EVEN: Final = Clocks(0.0, 0.0)
"""Clocks that run alike."""


@dataclass(frozen=True, slots=True, eq=False)
class FilterBlock:
    """A block of a take, and what was played during it."""

    index: int
    """Number of the block from the beginning of the take."""
    heard: Mono
    """The take, shape (`BLOCK`,)."""
    played: Spectra
    """The spectra of the filters' inputs, shape (`INPUTS`, `BINS`); all 0 in silence."""

    @classmethod
    def cut(cls, index: int, heard: Mono, played: Samples) -> "FilterBlock":
        """Return a block; `played` is the call during it and the one before, `LEAD` frames early.

        It has the shape (2 `BLOCK`, 2).
        """
        left, right = played.T
        both = left + right
        # Products are many times as quick as a power.
        inputs = np.stack((left, right, both * both * both))
        return cls(index, heard, np.fft.rfft(inputs, axis=1))

    @property
    def time(self) -> float:
        """When it begins, in seconds of the take."""
        return self.index * BLOCK / RATE


DERIVATIVE: Final = (2j * np.pi * np.fft.rfftfreq(2 * BLOCK, 1 / RATE)).astype(np.complex64)
"""The frequency response of the derivative, a second."""


class CallFilter:
    """Estimates the call in each block of a take.

    `blocks`, at least one, in order of time, are learnt from at first. `clocks` are a first guess
    at the delay and drift that remain in how the blocks are cut. A drift that is 35 parts in a
    million off is found over a dozen blocks; over more blocks, only one that is less far off. The
    filters are improved after every `batch` blocks that are learnt later.
    """

    def __init__(
        self, blocks: Sequence[FilterBlock], clocks: Clocks = EVEN, batch: int = 1
    ) -> None:
        about = background_spectrum(block.heard for block in blocks)
        white = np.ones(BINS) if about.spectrum is None else about.whitening(BINS)
        self._white = white.astype(np.float32)
        self._filters: Spectra = np.zeros((INPUTS, BINS), dtype=np.complex64)
        self._powers = np.zeros((INPUTS, INPUTS, BINS), dtype=np.complex64)
        self._products = np.zeros_like(self._filters)
        self._learnt, self._batch = 0, batch
        self.clocks = clocks
        """The delay and drift that remain in how the blocks are cut."""
        self._delays: deque[tuple[float, float, float]] = deque(maxlen=MEMORY)
        for _ in range(ROUNDS):
            self._delays.clear()
            self._powers[:] = 0.0
            for block in blocks:
                self._note(block)
            self._improve()

    def expected(self, block: FilterBlock) -> Mono:
        """Return the call in a block, shape (`BLOCK`,)."""
        return _last_block(self._expected(self._played(block)))

    def learn(self, block: FilterBlock) -> Mono:
        """Return the call in the next block as known before, and adapt to it now and then."""
        expected = self._note(block)
        self._learnt += 1
        if self._learnt % self._batch == 0:
            self._improve()
            self._powers *= 1 - self._batch / MEMORY
        return expected

    def _played(self, block: FilterBlock) -> Spectra:
        """Return the spectra of all inputs, with the remaining delay corrected."""
        delay = self.clocks.take_time(block.time) - block.time
        return np.asarray(block.played * np.exp(-delay * DERIVATIVE))

    def _expected(self, played: Spectra) -> Spectra:
        return np.asarray(np.sum(self._filters * played, axis=0))

    def _note(self, block: FilterBlock) -> Mono:
        """Note what is left of a block, whitened and clipped, and return the call in it."""
        played = self._played(block)
        spectrum = self._expected(played)
        expected = _last_block(spectrum)
        left = _last_block(_after_silence(block.heard - expected) * self._white)
        residual = np.clip(left, -CLIPPED_AT, CLIPPED_AT)
        self._note_delay(block, residual, _last_block(spectrum * self._white * DERIVATIVE))
        played *= self._white
        adjoint = played.conj()
        self._powers += adjoint[:, np.newaxis] * played
        self._products += adjoint * _after_silence(residual)
        return expected

    def _note_delay(self, block: FilterBlock, residual: Mono, slope: Mono) -> None:
        """Keep the delay that remains in a block, if it is certain enough.

        `slope` is the derivative of what was expected, a second, whitened as the residual.
        """
        information = float(slope @ slope)
        if information * MOST_UNCERTAIN**2 > 1:
            late = -float(residual @ slope) / information
            time = self.clocks.take_time(block.time) + late
            self._delays.append((block.time, time, information**-0.5))

    def _improve(self) -> None:
        """Move the filters towards a smaller residual, and follow the delay."""
        mean = np.einsum("iif->i", self._powers).real / BINS
        powers = np.moveaxis(self._powers, -1, 0) + np.diag(REGULARISATION * mean + TINY)
        steps = np.linalg.solve(powers, STEP * self._products.T[:, :, np.newaxis])[:, :, 0].T
        self._products[:] = 0.0
        responses = np.fft.irfft(self._filters + steps.astype(np.complex64), axis=1)
        responses[:, LENGTH:] = 0.0
        self._filters = np.fft.rfft(responses, axis=1)
        if self._delays:
            self.clocks = fitted(*np.array(self._delays).T)


def _after_silence(block: Mono) -> Spectra:
    """Return the spectrum of a block that follows one of silence."""
    return np.asarray(np.fft.rfft(np.concatenate((np.zeros_like(block), block))))


def _last_block(spectrum: Spectra) -> Mono:
    """Return the second of the two blocks that a spectrum holds."""
    return np.asarray(np.fft.irfft(spectrum)[BLOCK:])
