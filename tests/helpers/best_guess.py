"""The best guess at which catch was dropped, by one who knows how the take was made.

That is the posterior chance of each catch by Bayes' rule, with all that the simulation knows: the
juggler's lead and spread, how many catches are missing and how many sounds are extra, all the ways
in which a drop may go and how often each does. Nobody who only hears the take can do better on
average, so that it is a limit for the engine. That has to find out the juggler's lead and spread,
how much is missing and how much is extra, from the take; its ways in which a drop may go are much
like the simulation's, but more, and each as likely as it seems to us. It shares no code with this.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
from dropped_takes import CATCHES, WAYS, DroppedTake
from thud_times import TO_THE_FLOOR, Dropped

from throwcount.engine.takes.catches import Catch

Floats = npt.NDArray[np.float64]

FIRST: Final = 20
LAST: Final = CATCHES - 5
"""Catches that may have been dropped, for all that the guesser is told."""

NONE: Final = 1e-300


class Guesser:
    """One who knows all of a take but which catch was dropped, and in which way."""

    def __init__(self, told: DroppedTake) -> None:
        manner, catches = told.take.manner, told.catches
        rate = 1 + manner.ppm * 1e-6
        self._catches = catches
        self._thuds = np.array(told.take.times) / rate
        self._merged = manner.merged
        self._heard = 1 - manner.missing
        self._due = np.array([catch.time - manner.lead for catch in catches])
        self._caught = np.array([catch.time for catch in catches])
        self._beat = 60 / catches[0].tempo
        values = np.array([catch.value for catch in catches])
        self._thrown = self._caught - (values - 4 / 3) * self._beat
        self._object = np.array([catch.object for catch in catches])
        span = self._caught[-1] - self._caught[0] + 2
        self._extra_rate = manner.extra * len(catches) / span
        off = (self._thuds - self._due[:, np.newaxis]) / manner.sd
        bump = np.exp(-0.5 * off**2) / (manner.sd * np.sqrt(2 * np.pi))
        self._odds = bump / self._extra_rate

    def chances(self, ways: Sequence[Dropped]) -> Floats:
        """Return the chance of each catch from FIRST on, if each of these ways is as likely."""
        nats = np.array(
            [
                np.logaddexp.reduce([self._nats(way.at(index)) for way in ways])
                for index in range(FIRST, LAST)
            ]
        )
        chance: Floats = np.exp(nats - nats.max())
        return chance / chance.sum()

    def _nats(self, drop: Dropped) -> float:
        made = self._made(drop) * self._heard
        odds = self._odds.sum(axis=1)
        explained = _explained(made, odds)
        if not drop.floor:
            return explained
        first, last = self._caught[drop.catch] + np.array(TO_THE_FLOOR)
        fall = drop.floor / (last - first)
        inside = np.flatnonzero((self._thuds >= first) & (self._thuds <= last))
        # Within a moment after another thud it is not heard.
        covered = np.minimum(last, self._thuds + self._merged) - np.maximum(first, self._thuds)
        hidden = fall * np.maximum(covered, 0).sum()
        terms = [explained + np.log(1 - drop.floor + hidden)]
        for thud in inside:
            since = self._due - self._thuds[thud]
            swallowed = (since > 0) & (since < self._merged)
            rest = np.where(swallowed, 1.0, odds - self._odds[:, thud])
            terms.append(np.log(fall / self._extra_rate) + _explained(made, rest))
        return float(np.logaddexp.reduce(terms))

    def _made(self, drop: Dropped) -> Floats:
        """Return the chance that each catch is made."""
        lost = self._caught[drop.catch]
        again = np.inf if drop.resumed is None else lost + drop.resumed
        in_air = np.where(self._thrown < lost + drop.reaction * self._beat, drop.others, 0.0)
        made = np.where(self._object == self._object[drop.catch], 0.0, in_air)
        after = np.arange(len(made)) >= drop.catch
        resumed = np.maximum.accumulate(after & (self._thrown >= again))
        result: Floats = np.where(after & ~resumed, made, 1.0)
        return result


def _explained(made: Floats, odds: Floats) -> float:
    return float(np.log(np.maximum(1 - made + made * odds, NONE)).sum())


def best_guesses(told: DroppedTake) -> tuple[Catch, Catch]:
    """Return the catch that is likeliest dropped, and the one that is likeliest within a beat.

    The second often lies between two that may have been dropped, and is seldom the one.
    """
    chance = Guesser(told).chances(tuple(WAYS.values()))
    near = np.convolve(chance, np.ones(3), "same")
    likeliest, nearest = int(chance.argmax()), int((near + 1e-6 * chance).argmax())
    return told.catches[FIRST + likeliest], told.catches[FIRST + nearest]
