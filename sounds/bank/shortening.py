"""Shortens speech without a change of pitch, by waveform similarity overlap-add (WSOLA).

Short segments of the original are laid closer together, each moved by a few milliseconds to where
its waveform continues the one before it best (Verhelst & Roelands, ICASSP 1993, 554-557). Where
speech has to be very short, steady sound is shortened more than the changes between sounds, which
tell words apart (Covell, Withgott & Slaney, ICASSP 1998, 349-352, from memory).
"""

from collections.abc import Callable
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from throwcount.sounds.samples import Samples

SEGMENT_SECONDS: Final = 0.020
REACH_SECONDS: Final = 0.008
"""How far a segment may move either way: in all, a whole period of a voice down to 63 Hz."""

TINY: Final = 1e-9
"""Added against division by zero in silence."""

HOP_SECONDS: Final = 0.005
WINDOW_SECONDS: Final = 0.020
"""Of the spectra from which steadiness is read."""

BAND_EDGES: Final = np.concatenate((np.linspace(100, 1000, 8), np.geomspace(1100, 11_000, 16)))
"""Edges in Hz of the bands that spectra are compared in: even below 1 kHz, then widening, much as
the ear's are."""

FLOOR: Final = 1e-5
"""Power of a band, relative to the strongest there is, below which changes hardly count."""

FLUX_HOPS: Final = 2
"""Hops on either side between which spectra are compared."""

CHANGING: Final = 1.7
"""Root mean square difference of log powers at which steadiness is 1/e."""

LEAST_STEADINESS: Final = 0.08
LARGEST_LOCAL_FACTOR: Final = 2.5
"""The most that steady sound is shortened, where that suffices."""


def shortened(samples: Samples, rate: int, factor: float) -> Samples:
    """Return speech shortened by a factor, at the same pitch (WSOLA).

    `samples` are float32, shape (frames,). `rate` is the sample rate in Hz. A `factor` of 1 changes
    nothing, 2 halves the length.
    """
    if factor == 1:
        return samples
    return _overlapped(samples, rate, factor, lambda frame: frame * factor)


def shortened_where_steady(samples: Samples, rate: int, factor: float) -> Samples:
    """Return speech shortened by a factor, most where it is steady; parameters as `shortened`."""
    if factor <= 1:
        return samples
    hop = round(HOP_SECONDS * rate)
    shares = _shares(steadiness(samples, rate), factor)
    original = np.arange(len(shares) + 1) * hop
    quick = np.concatenate(([0.0], np.cumsum(shares))) * hop
    quick *= len(samples) / factor / np.interp(len(samples), original, quick)
    return _overlapped(
        samples, rate, factor, lambda frame: float(np.interp(frame, quick, original))
    )


def steadiness(samples: Samples, rate: int) -> npt.NDArray[np.float64]:
    """Return how steady a sound is at every hop of `HOP_SECONDS`, from 0 to 1.

    It falls with the spectral flux: the change of log powers in bands over four hops.
    """
    hop, size = round(HOP_SECONDS * rate), round(WINDOW_SECONDS * rate)
    padded = np.pad(samples.astype(np.float64), size // 2 + hop)
    starts = hop + hop * np.arange(len(samples) // hop + 1)
    frames = padded[starts[:, np.newaxis] + np.arange(size)] * np.hanning(size)
    length = 1 << (2 * size - 1).bit_length()
    power = np.abs(np.fft.rfft(frames, length)) ** 2
    bands = np.searchsorted(np.fft.rfftfreq(length, 1 / rate), BAND_EDGES)
    in_bands = np.stack(
        [power[:, low:high].sum(axis=1) for low, high in pairwise(bands)],
        axis=1,
    )
    logs = np.log(in_bands + FLOOR * in_bands.max() + TINY)
    last = len(logs) - 1
    before = np.maximum(np.arange(len(logs)) - FLUX_HOPS, 0)
    after = np.minimum(np.arange(len(logs)) + FLUX_HOPS, last)
    flux = np.sqrt(np.mean((logs[after] - logs[before]) ** 2, axis=1))
    return np.convolve(np.exp(-((flux / CHANGING) ** 2)), np.full(5, 0.2), mode="same")


def _shares(steady: npt.NDArray[np.float64], factor: float) -> npt.NDArray[np.float64]:
    """Return the share of its length that each hop keeps, `1 / factor` on the whole."""

    def shares_at(bias: float) -> npt.NDArray[np.float64]:
        shares = 1 / (1 + bias * (steady + LEAST_STEADINESS))
        return np.maximum(shares, 1 / LARGEST_LOCAL_FACTOR)

    low, high = 0.0, 200.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if shares_at(middle).mean() > 1 / factor else (low, middle)
    return shares_at(high)


def _overlapped(
    samples: Samples, rate: int, factor: float, original: Callable[[int], float]
) -> Samples:
    """Return a sound's segments laid over one another; `original` says where each frame was."""
    hop = round(SEGMENT_SECONDS * rate / 2)
    reach = round(REACH_SECONDS * rate)
    window = 0.5 - 0.5 * np.cos(np.pi * (np.arange(2 * hop) + 0.5) / hop)
    length = round(len(samples) / factor)
    steps = -(-length // hop) + 1
    margin = hop + reach
    padded = np.zeros(margin + len(samples) + round(hop * factor) + 8 * hop + reach)
    padded[margin : margin + len(samples)] = samples
    quick = np.zeros((steps + 1) * hop)
    place = reach
    for step in range(steps):
        wanted = round(original(step * hop)) + reach
        if step:
            place = _best_place(padded, wanted, place + hop, reach, 2 * hop)
        quick[step * hop : (step + 2) * hop] += window * padded[place : place + 2 * hop]
    return quick[hop : hop + length].astype(np.float32)


def _best_place(
    padded: npt.NDArray[np.float64], wanted: int, following: int, reach: int, size: int
) -> int:
    """Return the place within `reach` of `wanted` whose waveform is most like that at `following`.

    Their likeness is the normalised cross-correlation.
    """
    natural = padded[following : following + size]
    around = padded[wanted - reach : wanted + reach + size]
    similarity = np.correlate(around, natural, mode="valid")
    energy = np.convolve(around**2, np.ones(size), mode="valid")
    return int(wanted - reach + np.argmax(similarity / np.sqrt(energy + TINY)))
