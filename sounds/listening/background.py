"""Band powers of a take, the evidence of thuds in them, and the background they stand out from.

*Band powers*: a short-time Fourier transform gives the power in a dozen bands, hop by hop, about a
thousand times a second. The window is as long as a thud takes to rise, so that its beginning is
found to a fraction of a millisecond. Bands are as narrow as that window allows at the low end,
where voices and hum lie, and wider above. Most of what is below the lowest band, such as rumble,
falls into that band.

*Evidence*, band by band: the rise of the logarithmic power, as in spectral flux (Bello et al., A
tutorial on onset detection in music signals, IEEE Trans. Speech Audio Process. 13, 2005), less what
is left of it soon after. A thud rises within a few milliseconds and dies away. What dies away
slowly, such as the room's response to the last thud, was there just before; a vowel is still there
soon after; and the pulses of a voice, up to 12 ms apart, are there both before and after.

*Background*: quantiles of the last few seconds, per band (quantile-based noise estimation; Stahl,
Fischer & Bippus, ICASSP 2000). They cover enough hops for catches, which are few, to change little.
"""

from collections.abc import Iterable, Iterator
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from throwcount.sounds.samples import Mono

Powers: TypeAlias = npt.NDArray[np.float64]
"""Float64 of shape (hops, bands): mean square of the samples in each band."""

HOP_SECONDS: Final = 0.001
WINDOW_SECONDS: Final = 0.0053

EDGES: Final = (95, 280, 470, 660, 1030, 1400, 1970, 2720, 3840, 5340, 7590, 10780)
"""Edges of the bands, in Hz."""


class BandPowers:
    """A filter bank that measures blocks of any length, one after another.

    `rate` is the sample rate in Hz. Bands above half of it are left out.
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
        """Seconds from one hop to the next."""
        self.bands = len(self._bins) - 1
        """How many bands there are."""

    def push(self, block: Mono) -> Powers:
        """Return the powers of all hops that are complete with `block`, which may be empty.

        The window of hop n is centred on the time n `period`. The first sample stands for what is
        before the take; the last hop is the last whose window is within the take.
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


Evidence: TypeAlias = npt.NDArray[np.float64]
"""Float64 of shape (hops, bands), in dB, 0 to `HIGHEST`."""

BEFORE: Final = (-24, -4)
STRUCK: Final = (-1, 6)
SOON: Final = (28, 48)
LATER: Final = (48, 91)
"""Ranges around a hop, in hops (milliseconds), each without its end. `BEFORE` ends where the
windows of the stroke begin. What is left is measured twice, in `SOON` and `LATER`, so that a thud
is not taken for a vowel if another follows soon."""

EVIDENCE_PAST: Final = -BEFORE[0]
EVIDENCE_FUTURE: Final = LATER[1] - 1
"""How many hops before and after a hop its evidence depends on."""

HIGHEST: Final = 40.0
"""Highest evidence in one band, in dB."""

LEFT_WEIGHT: Final = 0.8
"""Weight of what is left soon after; less than 1, since a room responds to thuds as well."""


def evidence_of(powers: Powers, floor: npt.NDArray[np.float64]) -> Evidence:
    """Return the evidence of hops.

    `powers` are those of the hops, with `EVIDENCE_PAST` hops before and `EVIDENCE_FUTURE` hops
    after them. `floor` is the mean square of the background in each band, above 0.
    """
    before, struck, soon, later = _means(powers, (BEFORE, STRUCK, SOON, LATER))
    usual = np.maximum(before, floor)
    rise = np.clip(decibels(struck / usual), 0.0, HIGHEST)
    least = np.minimum(soon, later)
    left = np.clip(decibels(least / usual), 0.0, rise)
    return np.asarray(rise - LEFT_WEIGHT * left)


def decibels(ratio: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return ratios of powers in dB, at least -300."""
    return np.asarray(10.0 * np.log10(np.maximum(ratio, 1e-30)))


def _means(powers: Powers, ranges: Iterable[tuple[int, int]]) -> Iterator[Powers]:
    """Yield the means over ranges around each hop."""
    summed = np.concatenate((np.zeros((1, powers.shape[1])), np.cumsum(powers, axis=0)))
    count = len(powers) - EVIDENCE_PAST - EVIDENCE_FUTURE
    for around in ranges:
        first, last = around[0] + EVIDENCE_PAST, around[1] + EVIDENCE_PAST
        means = (summed[last : last + count] - summed[first : first + count]) / (last - first)
        yield np.asarray(np.maximum(means, 0.0))


Rows = npt.NDArray[np.float64]


class RunningQuantile:
    """Quantiles of the last rows.

    `length` rows are kept, at least 1. `expected`, shape (columns,), is a first guess that counts
    as `trust` rows (0 to `length`), until `length` others have come.
    """

    def __init__(self, length: int, expected: npt.ArrayLike, trust: int = 0) -> None:
        row = np.asarray(expected, dtype=np.float64)
        self._rows = np.empty((length, len(row)))
        self._rows[:trust] = row
        self._expected = row
        self._filled = trust
        self._next = trust % length

    def add(self, rows: Rows) -> None:
        """Add rows, shape (count, columns), and forget the oldest."""
        rows = rows[-len(self._rows) :]
        places = (self._next + np.arange(len(rows))) % len(self._rows)
        self._rows[places] = rows
        self._filled = min(self._filled + len(rows), len(self._rows))
        self._next = (self._next + len(rows)) % len(self._rows)

    def quantile(self, share: float) -> Rows:
        """Return for each column the value that a share (0 to 1) of the rows are below."""
        if not self._filled:
            return self._expected
        place = round(share * (self._filled - 1))
        # Much of the evidence is exactly 0, and where values are equal to sort is far quicker than
        # to partition; quicker still where each column lies in one piece.
        columns = np.ascontiguousarray(self._rows[: self._filled].T)
        return np.asarray(np.sort(columns)[:, place])


QUIETEST: Final = 1e-10
"""Mean square below which a band is silent: -100 dB, about the rounding noise of 16 bits. The
background is never taken to be lower."""

FLOOR_HOPS: Final = 20
FLOOR_SECONDS: Final = 4.0
FLOOR_SHARE: Final = 0.3
"""The background of a band is exceeded by 7 in 10 of its means over `FLOOR_HOPS` hops, within
`FLOOR_SECONDS`; so it is found in the pauses between words and thuds."""

STRIDE: Final = 4
SECONDS: Final = 8.0
"""The evidence and score of every `STRIDE`th hop of the last `SECONDS` are kept."""

USUAL_SHARE: Final = 0.8
USUAL_EVIDENCE: Final = 2.0
SCORE_SHARE: Final = 0.9
USUAL_SCORE: Final = 0.85
"""First guesses, in dB, those of stationary noise: one hop in 5 has more evidence in a band, and
one hop in 10 a higher score. Every take soon has numbers of its own."""

SOFTENING: Final = 0.2
"""Added to the usual score, in dB, so that not everything stands out where there is no noise."""

TRUST_SECONDS: Final = 0.5
"""How many seconds of stationary noise the first guesses count as."""


class BandBackground:
    """What is usual on a take, from its last seconds; `period` is in seconds from hop to hop."""

    def __init__(self, bands: int, period: float) -> None:
        kept = round(SECONDS / (STRIDE * period))
        trust = round(TRUST_SECONDS / (STRIDE * period))
        floors = round(FLOOR_SECONDS / (FLOOR_HOPS * period))
        self._floors = RunningQuantile(floors, np.full(bands, QUIETEST))
        self._evidence = RunningQuantile(kept, np.full(bands, USUAL_EVIDENCE), trust)
        self._scores = RunningQuantile(kept, [USUAL_SCORE], trust)

    def add_powers(self, powers: Powers) -> None:
        """Add the powers of hops; those that do not fill a mean are left out."""
        count = len(powers) // FLOOR_HOPS
        whole = powers[: count * FLOOR_HOPS]
        self._floors.add(whole.reshape(count, FLOOR_HOPS, powers.shape[1]).mean(axis=1))

    @property
    def floor(self) -> npt.NDArray[np.float64]:
        """Mean square of the background in each band, shape (bands,)."""
        return np.maximum(self._floors.quantile(FLOOR_SHARE), QUIETEST)

    def add_evidence(self, evidence: Evidence) -> None:
        """Add the evidence of hops."""
        self._evidence.add(evidence[::STRIDE])

    def weights(self, thud: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """Return the weight of each band, shape (bands,); their sum is 1.

        It is the usual evidence of a `thud` there, in dB, over what the band often has without one,
        much as in a matched filter (Turin, An introduction to matched filters, IRE Trans. Inf.
        Theory 6 (1960) 311-329). In a room full of voices the bands above them count most, if that
        is where catches are heard.
        """
        weights = (1.0 + thud) / (1.0 + self._evidence.quantile(USUAL_SHARE))
        return np.asarray(weights / np.sum(weights))

    def add_scores(self, scores: npt.NDArray[np.float64]) -> None:
        """Add the scores of hops, in dB, shape (hops,)."""
        self._scores.add(scores[::STRIDE, np.newaxis])

    @property
    def usual_score(self) -> float:
        """The score in dB that 9 hops in 10 are below, plus `SOFTENING`."""
        return SOFTENING + float(self._scores.quantile(SCORE_SHARE)[0])
