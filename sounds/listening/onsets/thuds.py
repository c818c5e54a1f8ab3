"""Catches as they are heard: short sounds that rise at once and die away.

A thud is a beanbag, ball or club that lands in a hand or anywhere else; claps, steps and clicks
are thuds as well. Two that are less than 45 ms apart count as one, at the time of the stronger
one: so two objects that are caught almost together are one thud.

How it works: the power of the take in bands (`bands`) gives evidence of a thud, moment by moment
(`evidence`). Bands are added up by how much they can be trusted on this take, and the sum, the
score, is compared with what it usually is (`background`). Where it stands out more than anywhere
near, there may be a thud (`odds`); when it begins is then told more finely (`beginning`), and what
is only its `echoes` is left out.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from sounds.listening.onsets.background import BandBackground
from sounds.listening.onsets.bands import BandPowers
from sounds.listening.onsets.beginning import BEGINNING_FUTURE, BEGINNING_PAST, thud_beginning
from sounds.listening.onsets.echoes import Echoes
from sounds.listening.onsets.evidence import EVIDENCE_FUTURE, EVIDENCE_PAST, evidence_of
from sounds.listening.onsets.odds import Odds, ratio_at
from sounds.listening.rate import Mono

APART: Final = 45
"""Moments (milliseconds) by which two thuds are apart at least."""

CHUNK: Final = 250
FIRST_CHUNK: Final = 1000
"""Moments that are judged at a time, by one measure of the background; more of them where nothing
is known of the background yet."""

HOPS_KEPT: Final = 2 * APART
"""Moments that are kept before those that are judged next."""

LOUDEST: Final = 10
"""Moments over which the level of a thud is measured."""

LEAST_SCORE: Final = 1.5
"""In dB: what rises by less, in the mean of the bands, is nothing, however quiet it is."""

OPENING: Final = 6
"""Moments that stand for what was before the take, so that its beginning is no thud."""

CLOSING: Final = 1000
CLOSING_SHARE: Final = 0.3
"""Last moments of a take, and what they exceed in 7 of 10: it stands for what comes after it."""


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
    second, at least 16,000; made for `sounds.listening.rate.RATE`. `least_confidence` is what is
    less likely to be a thud is left out, 0 to 1.
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
        certain = self._first + HOPS_KEPT - APART - BEGINNING_PAST
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
        after = np.tile(background, (APART + EVIDENCE_FUTURE, 1))
        self._powers = np.concatenate((self._powers, after))
        return self._judged(self._waiting)

    @property
    def _has_begun(self) -> bool:
        return len(self._ratios) > 0

    @property
    def _chunk(self) -> int:
        """How many moments are judged next."""
        return CHUNK if self._has_begun else FIRST_CHUNK

    @property
    def _waiting(self) -> int:
        """How many moments can be scored now."""
        kept = HOPS_KEPT if self._has_begun else 0
        return len(self._powers) - kept - EVIDENCE_FUTURE

    def _begin(self) -> None:
        """Put before the take what its first moments are like."""
        before = np.tile(self._powers[:OPENING].mean(axis=0), (HOPS_KEPT, 1))
        self._powers = np.concatenate((before, self._powers))
        self._ratios = np.zeros(HOPS_KEPT)
        self._first = -HOPS_KEPT

    def _judged(self, count: int) -> list[Thud]:
        """Score the next moments; return the thuds of as many that end `APART` before them."""
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
    """Return where ratios are the highest within `APART` on either side, ends left out."""
    inner = ratios[APART:-APART]
    return [
        place
        for place in (np.flatnonzero((inner >= least) & (inner > 0.0)) + APART).tolist()
        if ratios[place] > ratios[place - APART : place].max()
        and ratios[place] >= ratios[place : place + APART + 1].max()
    ]
