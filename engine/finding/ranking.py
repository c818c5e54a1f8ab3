"""Which patterns are worth rehearsing: a rule of thumb, not a measurement of jugglers.

A pattern's worth is the product of four shares, each from 0 to 1, so that a pattern has to have
something of each:

*busy*
    the share of beats on which a hand throws, neither empty nor just holding (an uncrossed 2),
    divided by the length of the longest row of beats on which none does;
*whole*
    the share of states that are different: 1 for a prime pattern, little for one that only
    strings shorter patterns together;
*varied*
    how many different throws it has, of all its throws, or of all that the highest throw allows
    if these are fewer; empty hands are no throws;
*near*
    1 from the ground state, less for each throw that it takes to get in, as a share of the
    objects.

It knows nothing of how hard a throw is, of a style, or of what a person likes.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from heapq import heappush, heappushpop
from itertools import groupby

from engine.patterns.ground import turns_from_ground
from engine.patterns.pattern import Pattern, Turn
from engine.patterns.rows import swapped
from engine.patterns.states import states


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
    """Return what a pattern is worth.

    The pattern is one that can be thrown. `highest` is the highest throw that it might have had, at
    least its own.
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
    mirror = swapped(one.pattern.turns)
    rotations = set(_rotations(mirror))
    return any(other.pattern.turns in rotations for other in kept)


def _rotations(turns: tuple[Turn, ...]) -> Iterator[tuple[Turn, ...]]:
    for start in range(len(turns)):
        yield turns[start:] + turns[:start]
