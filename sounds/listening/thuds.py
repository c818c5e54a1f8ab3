"""Onset detection: thuds, short sounds that rise at once and die away, with their confidence.

A thud is a beanbag, ball or club that lands in a hand or anywhere else; claps, steps and clicks are
thuds as well. Two less than 45 ms apart count as one, at the time of the stronger one, so two
objects caught almost together are one thud.

*Peak picking*: the evidence of each hop (`background`) is added up over the bands, each weighted by
how much of it the thuds of this take have there and how little the background has, as in a matched
filter. The sum, the score, is divided by its usual value. A local maximum of this ratio is a
candidate.

*Time*: the evidence is highest somewhere in the first milliseconds of a thud. Its beginning is
where the amplitude over the background, all bands together, last passes a share of its peak on the
way up. That is early enough not to depend on how the thud goes on, and late enough not to depend on
the noise before it.

*Echoes*: an echo from a wall is weaker than its thud and follows each thud after the same time, to
a millisecond or so, since neither wall nor microphone moves much. Hands are never that regular:
their catches vary by some 10 ms.

*Confidence*: a logistic regression (Cox, The regression analysis of binary sequences, J. R. Stat.
Soc. B 20, 1958) on the logarithm of the ratio. One on made takes of recorded impacts gave about as
much as `EVEN` and `STEEPNESS` say.
"""

import math
import statistics
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from throwcount.sounds.listening.background import (
    EVIDENCE_FUTURE,
    EVIDENCE_PAST,
    HIGHEST,
    BandBackground,
    BandPowers,
    Powers,
    decibels,
    evidence_of,
)
from throwcount.sounds.samples import Mono

SHARE: Final = 0.3
"""Share of the peak at which a thud begins. One that rises within 1 to 3 ms passes it less than a
millisecond after its first sound, which the length of the window makes up for."""

BEFORE: Final = (-34, -14)
RISING: Final = (-14, 8)
"""Where the background is measured and where the beginning is looked for, in hops around the hop of
most evidence."""

BEGINNING_PAST: Final = -BEFORE[0]
BEGINNING_FUTURE: Final = RISING[1]
"""How many hops before and after that hop are needed."""


def _shortly_before(powers: Powers, floor: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return the mean power of each band `BEFORE` a thud, of which `floor` is the least."""
    return np.asarray(np.maximum(powers[: BEFORE[1] + BEGINNING_PAST].mean(axis=0), floor))


def thud_beginning(
    powers: Powers, floor: npt.NDArray[np.float64], weights: npt.NDArray[np.float64]
) -> float:
    """Return by how many hops a thud begins after its hop of most evidence, within `RISING`.

    `powers` are those of `BEGINNING_PAST` hops before that hop, and of `BEGINNING_FUTURE` hops from
    it on. `floor` is the mean square of the background in each band, `weights` the weight of each
    band, with a sum of 1.
    """
    usual = _shortly_before(powers, floor)
    above = np.clip(decibels(powers[RISING[0] + BEGINNING_PAST :] / usual), 0.0, HIGHEST) @ weights
    amplitude = 10.0 ** (above / 20.0) - 1.0
    peak = int(np.argmax(amplitude))
    passed = SHARE * amplitude[peak]
    below = np.flatnonzero(amplitude[:peak] < passed)
    if not len(below):
        return float(RISING[0])
    last = int(below[-1])
    step = (passed - amplitude[last]) / (amplitude[last + 1] - amplitude[last])
    return float(RISING[0] + last + step)


LATEST: Final = 0.15
"""Longest time in seconds from a thud to its echo, that of a wall 25 m away."""

MUCH_WEAKER: Final = 15.0
"""A thud this many dB weaker than the last one is an echo in any case."""

WEAKER: Final = 3.0
"""Least difference in dB between a thud and its echo."""

SAME_LAG: Final = 0.0015
"""Largest difference in seconds between the lags of one echo."""

REMEMBERED_THUDS: Final = 24
"""How many of the last thuds are compared."""

OFTEN: Final = 0.3
LEAST_OFTEN: Final = 4
"""A lag is that of an echo if it was found after this share of these thuds, and after this many."""


class Echoes:
    """Recognises echoes; to be asked about every thud of a take in order of time."""

    def __init__(self) -> None:
        self._lags: deque[list[float]] = deque(maxlen=REMEMBERED_THUDS)
        self._time = -LATEST
        self._level = 0.0

    def is_echo(self, time: float, level: float) -> bool:
        """Return whether a thud is an echo of the last thud that was not one.

        `time` is in seconds, not before that of the thud before. `level` is in dB.
        """
        lag, weaker = time - self._time, self._level - level
        if lag < LATEST and weaker >= WEAKER:
            same = sum(any(abs(lag - other) < SAME_LAG for other in lags) for lags in self._lags)
            known = same >= max(LEAST_OFTEN, OFTEN * len(self._lags))
            self._lags[-1].append(lag)
            if known or weaker >= MUCH_WEAKER:
                return True
        self._lags.append([])
        self._time, self._level = time, level
        return False


EVEN: Final = 2.5
STEEPNESS: Final = 6.0
"""The ratio at which half of the candidates are thuds, and the slope of the curve there."""

ALIKE: Final = 3.0
REMEMBERED_RATIOS: Final = 31
VERY_CONFIDENT: Final = 0.95
"""The thuds of one person are alike: where some stand out far, all do. So the ratio of even odds is
at least the median ratio of the last `REMEMBERED_RATIOS` thuds of at least this confidence, divided
by `ALIKE`."""

EXPECTED: Final = 9.0
TRUST: Final = 3
"""A first guess at the ratio of thuds, and how many thuds it counts as, so that the first words of
people who talk are not taken for thuds."""


def ratio_at(confidence: float) -> float:
    """Return the ratio that gives a confidence (0 to 1) at the lowest even odds, `EVEN`."""
    if confidence >= 1.0:
        return math.inf
    return EVEN * math.pow(max(confidence, 0.0) / (1.0 - confidence), 1 / STEEPNESS)


class Odds:
    """Gives the candidates of a take their confidence, one after another."""

    def __init__(self) -> None:
        self._remembered: deque[float] = deque([EXPECTED] * TRUST, maxlen=REMEMBERED_RATIOS)
        self._least_remembered = ratio_at(VERY_CONFIDENT)

    def confidence(self, ratio: float) -> float:
        """Return how likely a candidate is a thud, 0 to 1; `ratio` is above 0."""
        even = max(EVEN, statistics.median(self._remembered) / ALIKE)
        if ratio >= self._least_remembered:
            self._remembered.append(ratio)
        return 1.0 / (1.0 + math.pow(ratio / even, -STEEPNESS))


USUAL_THUD: Final = 10.0
TRUST_THUDS: Final = 4
REMEMBERED_EVIDENCE: Final = 31
LIKELY: Final = 0.9
"""A first guess at the evidence of thuds, in dB in each band, and how many thuds it counts as; then
that of the last so many of at least this confidence counts."""


class UsualThud:
    """The usual evidence of the thuds of a take, band by band."""

    def __init__(self, bands: int) -> None:
        expected = [np.full(bands, USUAL_THUD)] * TRUST_THUDS
        self._remembered = deque(expected, maxlen=REMEMBERED_EVIDENCE)

    def add(self, evidence: npt.NDArray[np.float64], confidence: float) -> None:
        """Add the evidence of a thud, in dB, shape (bands,), if it is likely one."""
        if confidence >= LIKELY:
            self._remembered.append(evidence)

    @property
    def evidence(self) -> npt.NDArray[np.float64]:
        """The mean over the last thuds, in dB, shape (bands,)."""
        return np.asarray(np.mean(self._remembered, axis=0))


LEAST_DISTANCE: Final = 45
"""Least distance of two thuds, in hops (milliseconds)."""

CHUNK: Final = 250
FIRST_CHUNK: Final = 1000
"""Hops that are scored at a time, against one background; more at first, when it is unknown."""

HOPS_KEPT: Final = 2 * LEAST_DISTANCE
"""Hops that are kept before those that are scored next."""

LOUDEST: Final = 10
"""Hops over which the level of a thud is measured."""

LEAST_SCORE: Final = 1.5
"""Least score of a thud in dB, however quiet the background is."""

OPENING: Final = 6
"""The mean of this many first hops stands for what was before the take; its start is no thud."""

CLOSING: Final = 1000
CLOSING_SHARE: Final = 0.3
"""What 7 in 10 of the last `CLOSING` hops exceed stands for what comes after the take."""


@dataclass(frozen=True, slots=True)
class Thud:
    """A short sound that rises at once and dies away."""

    time: float
    """When it begins, in seconds from the first frame of the take."""
    level: float
    """Level of its first 10 ms over the background, in dB, from 95 Hz to 10.8 kHz."""
    confidence: float
    """How likely it is a thud, and not noise or a voice, 0 to 1."""
    bands: tuple[float, ...] = ()
    """The level of its first 10 ms in each band over the background or over what was there just
    before, in dB, 0 to `HIGHEST`."""


def find_thuds(blocks: Iterable[Mono], rate: int, least_confidence: float = 0.5) -> Iterator[Thud]:
    """Yield the thuds of a take in order of time, each within half a second and a block.

    `blocks` are the take in blocks of any length, float32 of shape (frames,). `rate` is the sample
    rate in Hz, at least 16,000; `throwcount.sounds.samples.RATE` is best. Thuds of less than
    `least_confidence`, 0 to 1, are left out.
    """
    finder = ThudFinder(rate, least_confidence)
    for block in blocks:
        yield from finder.push(block)
    yield from finder.finish()


class ThudFinder:
    """Finds thuds in blocks as they come; the parameters are those of `find_thuds`."""

    def __init__(self, rate: int, least_confidence: float = 0.5) -> None:
        self._bands = BandPowers(rate)
        self._background = BandBackground(self._bands.bands, self._bands.period)
        self._usual = UsualThud(self._bands.bands)
        self._odds = Odds()
        self._echoes = Echoes()
        self._least_confidence = least_confidence
        self._powers = np.zeros((0, self._bands.bands))
        self._evidence = np.zeros((HOPS_KEPT, self._bands.bands))
        self._ratios = np.zeros(0)
        self._first = 0

    @property
    def decided(self) -> float:
        """Time in seconds up to which every thud has been returned."""
        certain = self._first + HOPS_KEPT - LEAST_DISTANCE - BEGINNING_PAST
        return max(certain, 0) * self._bands.period if self._has_begun else 0.0

    def push(self, block: Mono) -> list[Thud]:
        """Return the thuds that are decided with `block`, in order of time."""
        self._powers = np.concatenate((self._powers, self._bands.push(block)))
        found: list[Thud] = []
        while self._waiting >= (chunk := CHUNK if self._has_begun else FIRST_CHUNK):
            found += self._scored(chunk)
        return found

    def finish(self) -> list[Thud]:
        """Return the last thuds; the background is taken to go on after the take."""
        if not len(self._powers):
            return []
        background = np.quantile(self._powers[-CLOSING:], CLOSING_SHARE, axis=0)
        after = np.tile(background, (LEAST_DISTANCE + EVIDENCE_FUTURE, 1))
        self._powers = np.concatenate((self._powers, after))
        return self._scored(self._waiting)

    @property
    def _has_begun(self) -> bool:
        return len(self._ratios) > 0

    @property
    def _waiting(self) -> int:
        """How many hops can be scored now."""
        kept = HOPS_KEPT if self._has_begun else 0
        return len(self._powers) - kept - EVIDENCE_FUTURE

    def _begin(self) -> None:
        """Put the mean of the first hops before the take."""
        before = np.tile(self._powers[:OPENING].mean(axis=0), (HOPS_KEPT, 1))
        self._powers = np.concatenate((before, self._powers))
        self._ratios = np.zeros(HOPS_KEPT)
        self._first = -HOPS_KEPT

    def _scored(self, count: int) -> list[Thud]:
        """Score the next hops and return the thuds that are decided then."""
        if not self._has_begun:
            self._begin()
        background = self._background
        background.add_powers(self._powers[HOPS_KEPT : HOPS_KEPT + count])
        floor = background.floor
        coming = slice(HOPS_KEPT - EVIDENCE_PAST, HOPS_KEPT + count + EVIDENCE_FUTURE)
        found = evidence_of(self._powers[coming], floor)
        background.add_evidence(found)
        self._evidence = np.concatenate((self._evidence[-HOPS_KEPT:], found))
        weights = background.weights(self._usual.evidence)
        scores = found @ weights
        background.add_scores(scores)
        ratios = np.where(scores < LEAST_SCORE, 0.0, scores / background.usual_score)
        self._ratios = np.concatenate((self._ratios[-HOPS_KEPT:], ratios))
        places = _peaks(self._ratios, ratio_at(self._least_confidence))
        thuds = [self._thud(place, floor, weights) for place in places]
        self._powers = self._powers[count:]
        self._first += count
        return [
            thud
            for thud in thuds
            if thud.confidence >= self._least_confidence
            and not self._echoes.is_echo(thud.time, thud.level)
        ]

    def _thud(
        self, place: int, floor: npt.NDArray[np.float64], weights: npt.NDArray[np.float64]
    ) -> Thud:
        """Return the thud whose hop of most evidence has the index `place` in what is kept."""
        around = self._powers[place - BEGINNING_PAST : place + BEGINNING_FUTURE]
        hop = self._first + place + thud_beginning(around, floor, weights)
        loudest = self._powers[place : place + LOUDEST].mean(axis=0)
        level = 10 * math.log10(max(float(loudest.sum() / floor.sum()), 1e-30))
        over = np.clip(decibels(loudest / _shortly_before(around, floor)), 0.0, HIGHEST)
        confidence = self._odds.confidence(float(self._ratios[place]))
        self._usual.add(self._evidence[place].copy(), confidence)
        time = max(hop, 0.0) * self._bands.period
        return Thud(time, level, confidence, tuple(over.round(1).tolist()))


def _peaks(ratios: npt.NDArray[np.float64], least: float) -> list[int]:
    """Return the indices of the highest ratios within `LEAST_DISTANCE` on either side."""
    inner = ratios[LEAST_DISTANCE:-LEAST_DISTANCE]
    return [
        place
        for place in (np.flatnonzero((inner >= least) & (inner > 0.0)) + LEAST_DISTANCE).tolist()
        if ratios[place] > ratios[place - LEAST_DISTANCE : place].max()
        and ratios[place] >= ratios[place : place + LEAST_DISTANCE + 1].max()
    ]
