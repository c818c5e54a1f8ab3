"""Ranking: which patterns are worth rehearsing, and how hard a pattern is.

Both are models of our own, not measurements of jugglers.

A pattern's *worth* is the product of four shares, each from 0 to 1, so none may be missing:

*busy*
    the share of beats on which a hand throws, neither empty nor just holding (an uncrossed 2),
    divided by the length of the longest row of beats on which none does;
*whole*
    the share of states that are different: 1 for a prime pattern, little for one that only
    strings shorter patterns together;
*varied*
    the number of different throws, as a share of all its throws, or of all that the highest
    throw allows if these are fewer; empty hands are not throws;
*near*
    1 from the ground state, less for each throw that it takes to get in, as a share of the
    objects.

The *difficulty* of a pattern is a sum of points. What enters it is common practice among
jugglers: more objects, higher throws, more kinds of throws to tell apart, a pattern that cannot
be entered from the plain one, a longer sequence to keep in mind, several objects from one hand,
and both hands at once each make a pattern harder. The weights are chosen to agree with common
opinion on well-known patterns, and so that two rules hold for every pattern:

- taking one object out and leaving its beats empty makes a pattern easier;
- so does lowering one throw by the period, which takes one object out as well.

Both hold because an object weighs more than the variety, memory and excitement that losing it can
add. Neither model knows the juggler: practice, props, tempo and the weaker hand change what is
hard, and style and taste what is worth rehearsing.
"""

import math
from dataclasses import astuple, dataclass
from heapq import heappush, heappushpop
from itertools import groupby
from typing import Final

from throwcount.engine.patterns.flight import flight_beats
from throwcount.engine.patterns.pattern import Pattern, rotations, swapped
from throwcount.engine.patterns.states import states, true_period, turns_from_ground, visits_ground


@dataclass(frozen=True, slots=True)
class Worth:
    """The four shares of a pattern's worth, each from 0 to 1."""

    busy: float
    whole: float
    varied: float
    near: float

    @property
    def total(self) -> float:
        """The product of the shares."""
        return self.busy * self.whole * self.varied * self.near


def worth(pattern: Pattern, highest: int) -> Worth:
    """Return what a pattern that can be thrown is worth.

    `highest` is the highest throw that it might have had, at least its own.
    """
    every = list(states(pattern))
    return Worth(
        busy=_busy(pattern),
        whole=len(set(every)) / len(every),
        varied=_varied(pattern, highest),
        near=1 - turns_from_ground(every[0], pattern.objects) / max(pattern.objects, 1),
    )


class Ranking:
    """The patterns that are worth most of those added so far.

    Of equal ones those with lower throws come first, and then the longer ones.

    `size` is how many patterns to keep, at least 1. `highest` is the highest throw that they might
    have had. `every_start` says whether the rotations of a pattern are patterns of their own. If
    not, only one of two synchronous patterns that mirror each other is kept.
    """

    def __init__(self, size: int, highest: int, *, every_start: bool = False) -> None:
        self._size, self._highest, self._every_start = size, highest, every_start
        self._kept: list[_Ranked] = []
        self._added = 0

    def add(self, pattern: Pattern) -> None:
        """Take one more pattern into account."""
        self._added += 1
        one = _Ranked(worth(pattern, self._highest), pattern, self._added)
        if not self._every_start and _is_mirrored(one, self._kept):
            return
        if len(self._kept) < self._size:
            heappush(self._kept, one)
        else:
            heappushpop(self._kept, one)

    def ranked(self) -> list[tuple[Pattern, Worth]]:
        """Return the patterns kept, best first."""
        return [(one.pattern, one.worth) for one in sorted(self._kept, reverse=True)]


@dataclass(frozen=True, slots=True)
class _Ranked:
    worth: Worth
    pattern: Pattern
    order: int

    @property
    def key(self) -> tuple[float, int, int, int]:
        pattern = self.pattern
        return round(self.worth.total, 9), -pattern.highest, pattern.period, -self.order

    def __lt__(self, other: "_Ranked") -> bool:
        return self.key < other.key


def _busy(pattern: Pattern) -> float:
    throwing = [
        any(not throw.held for throws in turn for throw in throws) for turn in pattern.turns
    ]
    share = sum(throwing) / len(throwing)
    if not share:
        return 0.0
    begin = throwing.index(True)
    rows = groupby(throwing[begin:] + throwing[:begin])
    idle = max((sum(1 for _ in row) for active, row in rows if not active), default=1)
    return share / idle


def _varied(pattern: Pattern, highest: int) -> float:
    made = {throw for _, throw in pattern.throws()}
    throws = sum(1 for _ in pattern.throws())
    possible = highest // pattern.beats_per_turn * pattern.places
    return len(made) / max(min(throws, possible), 1)


def _is_mirrored(one: _Ranked, kept: list[_Ranked]) -> bool:
    if one.pattern.kind == "async":
        return False
    mirrors = set(rotations(swapped(one.pattern.turns)))
    return any(other.pattern.turns in mirrors for other in kept)


OBJECT_POINTS: Final = 2.0
"""Points for each object."""

HIGHEST_POINTS: Final = 0.5
"""Points for each beat of the highest throw's flight, as it needs the most accuracy."""

FLIGHT_POINTS: Final = 1.0
"""Points for each beat of the root mean square flight, as many high throws leave no rest."""

KIND_POINTS: Final = 0.5
"""Points for each kind of throw after the first."""

MEMORY_POINTS: Final = 0.5
"""The limit of the points for long sequences: n turns weigh 1 - 1/n of it."""

EXCITED_POINTS: Final = 0.5
"""Points if the pattern never passes the ground state."""

MULTIPLEX_POINTS: Final = 1.0
"""Points for each object after the first in the largest multiplex."""

PAIR_POINTS: Final = 0.25
"""Points if both hands throw at once."""


@dataclass(frozen=True, slots=True)
class Difficulty:
    """The points of a pattern, one number for each thing that makes it hard; all 0 or more."""

    objects: float
    """Points for the number of objects."""
    highest: float
    """Points for the flight of the highest throw."""
    flight: float
    """Points for all flights together."""
    variety: float
    """Points for the different kinds of throws. Empty hands and held objects are not throws; a
    crossing throw is of another kind than one of the same value that does not cross."""
    memory: float
    """Points for the length of the sequence until it repeats."""
    excitement: float
    """Points for never passing the ground state."""
    multiplex: float
    """Points for throwing several objects at once from one hand."""
    pairs: float
    """Points for throwing from both hands at once."""

    @property
    def total(self) -> float:
        """The sum of all parts; the order of patterns is the order of this number."""
        return math.fsum(astuple(self))


def difficulty(pattern: Pattern) -> Difficulty:
    """Return how hard a pattern that can be thrown is, whatever beat it begins on."""
    throws = [throw for _, throw in pattern.throws()]
    flights = [flight_beats(throw.value, crossed=throw.crossed) or 0 for throw in throws]
    squares = math.fsum(flight**2 for flight in flights)
    kinds = {throw for throw in throws if throw.value and not throw.held}
    at_once = max(len(thrown) for turn in pattern.turns for thrown in turn)
    turns = true_period(pattern) // pattern.beats_per_turn
    return Difficulty(
        objects=OBJECT_POINTS * pattern.objects,
        highest=HIGHEST_POINTS * max(flights, default=0),
        flight=FLIGHT_POINTS * math.sqrt(squares / pattern.period),
        variety=KIND_POINTS * max(len(kinds) - 1, 0),
        memory=MEMORY_POINTS * (1 - 1 / turns),
        excitement=0 if visits_ground(pattern) else EXCITED_POINTS,
        multiplex=MULTIPLEX_POINTS * max(at_once - 1, 0),
        pairs=PAIR_POINTS if pattern.kind == "sync" else 0,
    )
