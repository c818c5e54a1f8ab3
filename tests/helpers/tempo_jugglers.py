"""Simulated jugglers whose sets are clean more seldom the faster they are, and how they practise.

The chance of a clean set is a logistic curve over the tempo, as is usual for psychometric functions
(Levitt 1971). Its spread is how much faster a set must be for the odds of a clean one to fall by e.
Spreads and midpoints are made up, not measured on jugglers.
"""

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass

from throwcount.engine.practice.tempo_rules import Rule, Staircase

START = 180.0
"""The tempo of the first set, in beats a minute."""

LEVEL = 0.5 ** (1 / 3)
"""The share of clean sets where three in a row are clean half of the time, 79.4 % (Levitt 1971)."""


@dataclass(frozen=True, slots=True)
class TempoJuggler:
    """A juggler, by the curve; in beats a minute."""

    midpoint: float
    """The tempo at which half of the sets are clean."""
    spread: float
    """The spread of the curve."""

    def chance(self, tempo: float) -> float:
        """Return the chance that a set at `tempo` is clean."""
        return 1 / (1 + math.exp((tempo - self.midpoint) / self.spread))

    @property
    def wanted(self) -> float:
        """The tempo at which the share `LEVEL` of the sets is clean."""
        return self.midpoint - self.spread * math.log(LEVEL / (1 - LEVEL))


def tempo_jugglers(number: int, seed: int) -> Iterator[tuple[TempoJuggler, random.Random]]:
    """Yield jugglers, from 20 below the start to 40 above, of spreads of 5 to 15; their luck."""
    draws = random.Random(seed)
    for _ in range(number):
        juggler = TempoJuggler(START + draws.uniform(-20, 40), draws.uniform(5, 15))
        yield juggler, random.Random(draws.random())


def practised(
    juggler: TempoJuggler, luck: random.Random, sets: int, rule: Rule | None = None
) -> Iterator[Staircase]:
    """Yield the staircase after each of a number of sets."""
    staircase = Staircase(START, rule or Rule())
    for _ in range(sets):
        clean = luck.random() < juggler.chance(staircase.tempo)
        staircase = staircase.after("clean" if clean else "drop")
        yield staircase
