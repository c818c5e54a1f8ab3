"""Which thud is which sound: each at most once, and all in order.

Among all ways to pair sounds with thuds without crossing, the one with the largest total gain is
found by dynamic programming (as Needleman & Wunsch, J. Mol. Biol. 48 (1970) 443-453, align two
sequences), kept to the thuds near each sound, so that time and memory follow the length.
"""

import math
from bisect import bisect_left
from collections.abc import Sequence
from typing import TypeAlias

import numpy as np

from engine.catching.heard import Floats
from engine.catching.mixture import Mixture

Choice: TypeAlias = tuple[int, int, float]
"""A sound, a thud, and what is gained when they are paired, more than 0."""


def choices(mixture: Mixture, weights: Floats) -> list[Choice]:
    """Return the pairs of a sound and a thud that are likelier one than a miss and an extra thud.

    Parameters
    ----------
    mixture
        Sounds and thuds near each other, with what is known of them.
    weights
        How much each thud counts, more than 0, at most 1.
    """
    near = mixture.near
    off = (near.late - mixture.lead[near.sound]) / mixture.spread
    peak = mixture.heard / ((1 - mixture.heard) * mixture.extra_rate)
    peak /= mixture.spread * math.sqrt(2 * math.pi)
    gain = math.log(peak) + np.log(weights[near.thud]) - 0.5 * off * off
    worth = gain > 0
    columns = near.sound[worth], near.thud[worth], gain[worth]
    return list(zip(*(column.tolist() for column in columns), strict=True))


def pair_up(choices: Sequence[Choice]) -> list[tuple[int, int]]:
    """Return the pairs of the best pairing, in order.

    `choices` are in order of the sound and then of the thud; later sounds have no earlier thuds
    than the ones before, at either end.
    """
    ends = _Ends()
    before: list[int] = []
    start = 0
    while start < len(choices):
        stop = start
        while stop < len(choices) and choices[stop][0] == choices[start][0]:
            stop += 1
        fresh = []
        for index in range(start, stop):
            _, thud, gain = choices[index]
            gained, last = ends.best_before(thud)
            before.append(last)
            fresh.append((thud, gained + gain, index))
        for end in fresh:
            ends.keep(*end)
        start = stop
    pairs = []
    index = ends.best
    while index >= 0:
        pairs.append(choices[index][:2])
        index = before[index]
    return pairs[::-1]


class _Ends:
    """For each thud that a pairing may end with, the most that such a pairing gains.

    Kept are those that gain more than all that end earlier, so that thuds and gains both rise.
    """

    def __init__(self) -> None:
        self._thuds = [-1]
        self._gains = [0.0]
        self._choices = [-1]

    @property
    def best(self) -> int:
        """The last choice of the best pairing, -1 for none."""
        return self._choices[-1]

    def best_before(self, thud: int) -> tuple[float, int]:
        """Return the gain and the last choice of the best pairing that ends before `thud`."""
        at = bisect_left(self._thuds, thud) - 1
        return self._gains[at], self._choices[at]

    def keep(self, thud: int, gain: float, choice: int) -> None:
        """Keep a pairing if none that ends as early gains as much; drop those that it beats."""
        at = bisect_left(self._thuds, thud)
        if self._gains[at - 1] >= gain or (
            at < len(self._thuds) and self._thuds[at] == thud and self._gains[at] >= gain
        ):
            return
        beaten = at
        while beaten < len(self._thuds) and self._gains[beaten] <= gain:
            beaten += 1
        self._thuds[at:beaten] = [thud]
        self._gains[at:beaten] = [gain]
        self._choices[at:beaten] = [choice]
