"""Catches as they are heard: short sounds that rise at once and die away.

A thud is a beanbag, ball or club that lands in a hand or anywhere else; claps, steps and clicks
are thuds as well. Two that are less than 45 ms apart count as one, at the time of the stronger
one: so two objects that are caught almost together are one thud.

How it works: the power of the take in bands (`bands`) gives evidence of a thud, moment by moment
(`evidence`). Bands are added up by how much they can be trusted on this take, and the sum, the
score, is compared with what it usually is (`background`). Where it stands out more than anywhere
near, there may be a thud (`odds`); when it begins is then told more finely (`beginning`), and what
is only its `echoes` is left out.

When a thud begins, to a fraction of a moment.

The evidence is at its most somewhere in the first milliseconds of a thud. Its beginning is where
the amplitude over the background, all bands taken together, last passes a share of its peak on
the way up. That is early enough not to depend on how a thud goes on, and late enough not to
depend on the noise before it.

Which thuds are only heard once more, from a wall.

An echo is weaker than its thud, and it follows as late after this thud as after the last one, to a
millisecond or so, since neither wall nor microphone moves much. Hands are never that regular:
what two of them catch shortly one after the other is some 10 ms earlier or later every time.

How sure a thud is, from how far it stands out.

Synthesised takes from rooms of six kinds (quiet, noisy, full of voices, with a long echo ...) agree
on how likely a candidate is a thud, given its score over the usual score of its take: a logistic
curve of the logarithm of this ratio.
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
"""Of the peak; a thud that rises within 1 to 3 ms passes it less than a millisecond after its
first sound, which the length of a window makes up for."""

BEFORE: Final = (-34, -14)
RISING: Final = (-14, 8)
"""Where the background is measured and where the beginning is looked for, in hops around the
moment of most evidence."""

BEGINNING_PAST: Final = -BEFORE[0]
BEGINNING_FUTURE: Final = RISING[1]
"""How many hops before and after that moment are looked at."""


def thud_beginning(
    powers: Powers, floor: npt.NDArray[np.float64], weights: npt.NDArray[np.float64]
) -> float:
    """Return by how many hops a thud begins after its moment of most evidence.

    The result is between the ends of `RISING`.

    Parameters
    ----------
    powers
        Of `BEGINNING_PAST` hops before that hop, of it, and of `BEGINNING_FUTURE` - 1 after it.
    floor
        Mean square of the background in each band.
    weights
        How much each band counts; their sum is 1.
    """
    usual = np.maximum(powers[: BEFORE[1] + BEGINNING_PAST].mean(axis=0), floor)
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
"""Seconds by which an echo follows its thud at the latest; the way of sound to a wall 25 m off."""

MUCH_WEAKER: Final = 15.0
"""In dB: what follows that much weaker is taken for an echo without more ado."""

WEAKER: Final = 3.0
"""In dB by which an echo is weaker at least."""

SAME_LAG: Final = 0.0015
"""Seconds by which the lags of one echo differ at the most."""

REMEMBERED_THUDS: Final = 24
"""How many thuds a lag is looked for after."""

OFTEN: Final = 0.3
LEAST_OFTEN: Final = 4
"""The share of these thuds, and their number, that a lag was found after when it is an echo's."""


class Echoes:
    """Is asked about every thud of a take, in order of time."""

    def __init__(self) -> None:
        self._lags: deque[list[float]] = deque(maxlen=REMEMBERED_THUDS)
        self._time = -LATEST
        self._level = 0.0

    def is_echo(self, time: float, level: float) -> bool:
        """Tell whether a thud is an echo of the last one that was none.

        `time` is in seconds, not before that of the thud asked about last. `level` is in dB.
        """
        lag, weaker = time - self._time, self._level - level
        if lag < LATEST and weaker >= WEAKER:
            known = self._is_known(lag)
            self._lags[-1].append(lag)
            if known or weaker >= MUCH_WEAKER:
                return True
        self._lags.append([])
        self._time, self._level = time, level
        return False

    def _is_known(self, lag: float) -> bool:
        """Tell whether many of the last thuds were followed by something after the same time."""
        same = sum(any(abs(lag - other) < SAME_LAG for other in lags) for lags in self._lags)
        return same >= max(LEAST_OFTEN, OFTEN * len(self._lags))


EVEN: Final = 2.2
STEEPNESS: Final = 10.4
"""The ratio where half of the candidates are thuds, and how quickly that changes."""

ALIKE: Final = 3.0
REMEMBERED_RATIOS: Final = 31
VERY_CONFIDENT: Final = 0.95
"""The thuds of one person are alike. Even odds are never below the median ratio of the last so many
very sure thuds, over this factor: where thuds stand out far, so does each of them."""

EXPECTED: Final = 9.0
TRUST: Final = 3
"""The ratio of thuds that is expected at first, and how many of them it counts for, so that the
first words of people who talk are not taken for thuds. The median on synthesised takes is about 7
where thuds are 10 dB above the noise, and 12 where they are 20 dB above it."""


def ratio_at(confidence: float) -> float:
    """Return the ratio at which a thud is so sure (0 to 1), where thuds stand out no farther."""
    if confidence >= 1.0:
        return math.inf
    return EVEN * math.pow(max(confidence, 0.0) / (1.0 - confidence), 1 / STEEPNESS)


class Odds:
    """Judges the candidates of a take, one after another."""

    def __init__(self) -> None:
        self._remembered: deque[float] = deque([EXPECTED] * TRUST, maxlen=REMEMBERED_RATIOS)
        self._least_remembered = ratio_at(VERY_CONFIDENT)

    def confidence(self, ratio: float) -> float:
        """Return how likely a candidate is a thud, 0 to 1.

        `ratio` is the score over the usual score, above 0.
        """
        even = max(EVEN, statistics.median(self._remembered) / ALIKE)
        if ratio >= self._least_remembered:
            self._remembered.append(ratio)
        return 1.0 / (1.0 + math.pow(ratio / even, -STEEPNESS))


LEAST_DISTANCE: Final = 45
"""Moments (milliseconds) by which two thuds are apart at least."""

CHUNK: Final = 250
FIRST_CHUNK: Final = 1000
"""Moments that are judged at a time, by one measure of the background; more of them where nothing
is known of the background yet."""

HOPS_KEPT: Final = 2 * LEAST_DISTANCE
"""Moments that are kept before those that are judged next."""

LOUDEST: Final = 10
"""Moments over which the level of a thud is measured."""

LEAST_SCORE: Final = 1.5
"""In dB: what rises by less, in the mean of the bands, is nothing, however quiet it is."""

OPENING: Final = 6
"""Moments that stand for what was before the take, so that its beginning is no thud."""

CLOSING: Final = 1000
CLOSING_SHARE: Final = 0.3
"""Last hops of a take, and what they exceed in 7 of 10: it stands for what comes after it."""


@dataclass(frozen=True, slots=True)
class Thud:
    """One thud."""

    time: float
    """When it begins, in seconds from the first frame of the take."""
    level: float
    """Its first 10 ms over the background, in dB, from 95 Hz to 10.8 kHz."""
    confidence: float
    """How likely it is a thud, and not noise or a voice, 0 to 1."""


def find_thuds(blocks: Iterable[Mono], rate: int, least_confidence: float = 0.5) -> Iterator[Thud]:
    """Yield the thuds of a take in order of time.

    Each is yielded within half a second of the take after it was heard, and a block.

    `blocks` are the take in blocks of any length, float32 of shape (frames,). `rate` is in frames a
    second, at least 16,000; made for `throwcount.sounds.samples.RATE`. `least_confidence` is what
    is less likely to be a thud is left out, 0 to 1.
    """
    finder = ThudFinder(rate, least_confidence)
    for block in blocks:
        yield from finder.push(block)
    yield from finder.finish()


class ThudFinder:
    """Finds thuds in blocks as they come; parameters as those of `find_thuds`."""

    def __init__(self, rate: int, least_confidence: float = 0.5) -> None:
        self._bands = BandPowers(rate)
        self._background = BandBackground(self._bands.bands, self._bands.period)
        self._odds = Odds()
        self._echoes = Echoes()
        self._least_confidence = least_confidence
        self._powers = np.zeros((0, self._bands.bands))
        self._ratios = np.zeros(0)
        self._first = 0

    @property
    def decided(self) -> float:
        """Seconds of the take of which every thud has been returned."""
        certain = self._first + HOPS_KEPT - LEAST_DISTANCE - BEGINNING_PAST
        return max(certain, 0) * self._bands.period if self._has_begun else 0.0

    def push(self, block: Mono) -> list[Thud]:
        """Return the thuds that are decided with `block`, in order of time."""
        self._powers = np.concatenate((self._powers, self._bands.push(block)))
        found: list[Thud] = []
        while self._waiting >= self._chunk:
            found += self._judged(self._chunk)
        return found

    def finish(self) -> list[Thud]:
        """Return the last thuds, as if the background went on after the take."""
        if not len(self._powers):
            return []
        background = np.quantile(self._powers[-CLOSING:], CLOSING_SHARE, axis=0)
        after = np.tile(background, (LEAST_DISTANCE + EVIDENCE_FUTURE, 1))
        self._powers = np.concatenate((self._powers, after))
        return self._judged(self._waiting)

    @property
    def _has_begun(self) -> bool:
        return len(self._ratios) > 0

    @property
    def _chunk(self) -> int:
        """How many hops are judged next."""
        return CHUNK if self._has_begun else FIRST_CHUNK

    @property
    def _waiting(self) -> int:
        """How many hops can be scored now."""
        kept = HOPS_KEPT if self._has_begun else 0
        return len(self._powers) - kept - EVIDENCE_FUTURE

    def _begin(self) -> None:
        """Put before the take what its first hops are like."""
        before = np.tile(self._powers[:OPENING].mean(axis=0), (HOPS_KEPT, 1))
        self._powers = np.concatenate((before, self._powers))
        self._ratios = np.zeros(HOPS_KEPT)
        self._first = -HOPS_KEPT

    def _judged(self, count: int) -> list[Thud]:
        """Score the next hops; return the thuds of those that end early enough."""
        if not self._has_begun:
            self._begin()
        background = self._background
        background.add_powers(self._powers[HOPS_KEPT : HOPS_KEPT + count])
        floor = background.floor
        coming = slice(HOPS_KEPT - EVIDENCE_PAST, HOPS_KEPT + count + EVIDENCE_FUTURE)
        found = evidence_of(self._powers[coming], floor)
        background.add_evidence(found)
        weights = background.weights
        scores = found @ weights
        background.add_scores(scores)
        ratios = np.where(scores < LEAST_SCORE, 0.0, scores / background.usual_score)
        self._ratios = np.concatenate((self._ratios[-HOPS_KEPT:], ratios))
        places = _peaks(self._ratios, ratio_at(self._least_confidence))
        thuds = [self._thud(place, floor, weights) for place in places]
        self._powers = self._powers[count:]
        self._first += count
        return [thud for thud in thuds if self._is_taken(thud)]

    def _thud(
        self, place: int, floor: npt.NDArray[np.float64], weights: npt.NDArray[np.float64]
    ) -> Thud:
        """Return the thud whose moment of most evidence is at `place` in what is kept."""
        around = self._powers[place - BEGINNING_PAST : place + BEGINNING_FUTURE]
        moment = self._first + place + thud_beginning(around, floor, weights)
        loudest = self._powers[place : place + LOUDEST].mean(axis=0)
        level = 10 * math.log10(max(float(loudest.sum() / floor.sum()), 1e-30))
        confidence = self._odds.confidence(float(self._ratios[place]))
        return Thud(max(moment, 0.0) * self._bands.period, level, confidence)

    def _is_taken(self, thud: Thud) -> bool:
        if thud.confidence < self._least_confidence:
            return False
        return not self._echoes.is_echo(thud.time, thud.level)


def _peaks(ratios: npt.NDArray[np.float64], least: float) -> list[int]:
    """Return where ratios are the highest within `LEAST_DISTANCE` on either side, ends left out."""
    inner = ratios[LEAST_DISTANCE:-LEAST_DISTANCE]
    return [
        place
        for place in (np.flatnonzero((inner >= least) & (inner > 0.0)) + LEAST_DISTANCE).tolist()
        if ratios[place] > ratios[place - LEAST_DISTANCE : place].max()
        and ratios[place] >= ratios[place : place + LEAST_DISTANCE + 1].max()
    ]
