"""What a take is like where nothing is caught, as its last few seconds have it.

All of it are shares of many hops, so that the catches themselves, which are few, change little.

How much power a take has in each band of frequencies, about a thousand times a second.

A moment here is one short window, a millisecond after the one before it. The window is as long as
a thud takes to rise, so that its beginning is told to a fraction of a millisecond. The bands are
as narrow as that window allows at the low end, where voices and hum lie, and wider above. What is
below the lowest band, such as rumble, is for the most part in that band.

How much a moment sounds like the beginning of a thud, band by band.

A thud rises within a few milliseconds and dies away. So the evidence is by how much the power just
after a moment is above what it was just before (or above the background, where that is more), less
what is left of it soon after. What dies away slowly, such as the room's answer to the last thud,
was there just before; a vowel is there soon after; and the pulses of a voice, up to 12 ms apart,
are both just before and just after.

What some measures were like in the last few seconds.
"""

from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from throwcount.sounds.samples import Mono

Powers: TypeAlias = npt.NDArray[np.float64]
"""Float64 of shape (hops, bands): mean square of the samples in each band."""

HOP_SECONDS: Final = 0.001
WINDOW_SECONDS: Final = 0.0053

EDGES: Final = (95, 280, 470, 660, 1030, 1400, 1970, 2720, 3840, 5340, 7590, 10780)
"""Of the bands, in Hz."""


class BandPowers:
    """Measures blocks one after another, whatever their lengths.

    `rate` is the sample rate in Hz. Bands that it cannot hold are left out.
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
        """Return the powers of all hops that are complete with `block`.

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


Evidence: TypeAlias = npt.NDArray[np.float64]
"""Float64 of shape (hops, bands), in dB, 0 to `HIGHEST`."""

BEFORE: Final = (-24, -4)
STRUCK: Final = (-1, 6)
SOON: Final = (28, 48)
LATER: Final = (48, 91)
"""Stretches around a moment, in hops (milliseconds): from the first number on, until before the
second. What `BEFORE` measures ends where the windows of what is struck begin. What is left is
measured in two stretches, so that a thud is not taken for a vowel if another one follows soon."""

EVIDENCE_PAST: Final = -BEFORE[0]
EVIDENCE_FUTURE: Final = LATER[1] - 1
"""How many hops before and after a moment its evidence depends on."""

HIGHEST: Final = 40.0
"""More dB than this in one band are no more evidence."""

LEFT_WEIGHT: Final = 0.8
"""How much of what is left soon after counts against a thud: not all, since rooms answer."""


def evidence_of(powers: Powers, floor: npt.NDArray[np.float64]) -> Evidence:
    """Return the evidence of hops.

    Parameters
    ----------
    powers
        Of `EVIDENCE_PAST` hops before them, of them, and of `EVIDENCE_FUTURE` hops after them.
    floor
        Mean square of the background in each band, above 0.
    """
    usual = np.maximum(_means(powers, BEFORE), floor)
    rise = np.clip(decibels(_means(powers, STRUCK) / usual), 0.0, HIGHEST)
    least = np.minimum(_means(powers, SOON), _means(powers, LATER))
    left = np.clip(decibels(least / usual), 0.0, rise)
    return np.asarray(rise - LEFT_WEIGHT * left)


def decibels(ratio: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return ratios of powers in dB, -300 for none."""
    return np.asarray(10.0 * np.log10(np.maximum(ratio, 1e-30)))


def _means(powers: Powers, stretch: tuple[int, int]) -> Powers:
    """Return the mean over a stretch around each moment."""
    first, last = stretch[0] + EVIDENCE_PAST, stretch[1] + EVIDENCE_PAST
    summed = np.concatenate((np.zeros((1, powers.shape[1])), np.cumsum(powers, axis=0)))
    count = len(powers) - EVIDENCE_PAST - EVIDENCE_FUTURE
    means = (summed[last : last + count] - summed[first : first + count]) / (last - first)
    return np.asarray(np.maximum(means, 0.0))


Rows = npt.NDArray[np.float64]


class RunningQuantile:
    """Keeps the last rows that it was given, and no more.

    `length` is how many rows it keeps, at least 1. `expected`, of shape (columns,), is what a row
    is like as long as next to nothing is known. It counts as `trust` rows, which go once `length`
    others have come. `trust` is how many rows, 0 to `length`.
    """

    def __init__(self, length: int, expected: npt.ArrayLike, trust: int = 0) -> None:
        row = np.asarray(expected, dtype=np.float64)
        self._rows = np.empty((length, len(row)))
        self._rows[:trust] = row
        self._expected = row
        self._filled = trust
        self._next = trust % length

    def add(self, rows: Rows) -> None:
        """Keep rows, shape (count, columns), in place of the oldest."""
        rows = rows[-len(self._rows) :]
        places = (self._next + np.arange(len(rows))) % len(self._rows)
        self._rows[places] = rows
        self._filled = min(self._filled + len(rows), len(self._rows))
        self._next = (self._next + len(rows)) % len(self._rows)

    def quantile(self, share: float) -> Rows:
        """Return for each column the value that a share (0 to 1) of the rows stay below."""
        if not self._filled:
            return self._expected
        place = round(share * (self._filled - 1))
        ordered = np.partition(self._rows[: self._filled], place, axis=0)
        return np.asarray(ordered[place])


QUIETEST: Final = 1e-10
"""Mean square of a band that counts as silence, -100 dB: about what 16 bits leave.
Nothing is told from the background below it."""

FLOOR_HOPS: Final = 20
FLOOR_SECONDS: Final = 4.0
FLOOR_SHARE: Final = 0.3
"""The background of a band is what its means over so many hops exceed in 7 of 10, so that it
is found in the pauses between words and thuds."""

STRIDE: Final = 4
SECONDS: Final = 8.0
"""How far the hops are apart that are kept, and for how long they are."""

USUAL_SHARE: Final = 0.8
USUAL_EVIDENCE: Final = 2.0
SCORE_SHARE: Final = 0.9
USUAL_SCORE: Final = 0.85
"""Stationary noise has more than this evidence in one band in one moment of 5, and more than this
score in one moment of 10, both in dB; so it is in any other take, with numbers of its own."""

SOFTENING: Final = 0.2
"""Added to the usual score, in dB, so that not everything stands out where there is no noise."""

TRUST_SECONDS: Final = 0.5
"""How much of stationary noise is taken for granted as long as little else is known."""


class BandBackground:
    """Keeps what is usual.

    `period` is in seconds from moment to moment.
    """

    def __init__(self, bands: int, period: float) -> None:
        kept = round(SECONDS / (STRIDE * period))
        trust = round(TRUST_SECONDS / (STRIDE * period))
        floors = round(FLOOR_SECONDS / (FLOOR_HOPS * period))
        self._floors = RunningQuantile(floors, np.full(bands, QUIETEST))
        self._evidence = RunningQuantile(kept, np.full(bands, USUAL_EVIDENCE), trust)
        self._scores = RunningQuantile(kept, [USUAL_SCORE], trust)

    def add_powers(self, powers: Powers) -> None:
        """Take in the powers of hops; those that do not fill a mean are left out."""
        count = len(powers) // FLOOR_HOPS
        whole = powers[: count * FLOOR_HOPS]
        self._floors.add(whole.reshape(count, FLOOR_HOPS, powers.shape[1]).mean(axis=1))

    @property
    def floor(self) -> npt.NDArray[np.float64]:
        """Mean square of the background in each band, shape (bands,)."""
        return np.maximum(self._floors.quantile(FLOOR_SHARE), QUIETEST)

    def add_evidence(self, evidence: Evidence) -> None:
        """Take in the evidence of hops."""
        self._evidence.add(evidence[::STRIDE])

    @property
    def weights(self) -> npt.NDArray[np.float64]:
        """How much each band counts, shape (bands,); their sum is 1.

        A band counts by the inverse square of the evidence that it often has where there is
        nothing, as independent measures do by the inverse of their variance. In a room full of
        voices, those above the voices count most.
        """
        weights = (1.0 + self._evidence.quantile(USUAL_SHARE)) ** -2
        return np.asarray(weights / np.sum(weights))

    def add_scores(self, scores: npt.NDArray[np.float64]) -> None:
        """Take in the scores of hops, in dB, shape (hops,)."""
        self._scores.add(scores[::STRIDE, np.newaxis])

    @property
    def usual_score(self) -> float:
        """The score that 9 hops of 10 stay below, and a little, in dB."""
        return SOFTENING + float(self._scores.quantile(SCORE_SHARE)[0])
