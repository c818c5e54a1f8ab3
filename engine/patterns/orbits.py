"""What each object does in a pattern, where objects start, and what repeats when.

An *orbit* is a set of throws that the same objects go through for ever. Where several objects
land in one hand at once, those thrown earliest take the throws in the order written (of those
thrown at once, left hand before right and in the order written): a convention, as the notation
leaves it open. The patterns given here can all be thrown.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from engine.patterns.pattern import Hand, Pattern, Site, Throw
from engine.patterns.states import state


@dataclass(frozen=True, slots=True)
class Orbit:
    """The throws that the same objects go through."""

    objects: int
    """How many objects share it."""
    beats: tuple[int, ...]
    """The beats of its throws in one repetition, in order; twice where two are thrown at once."""
    throws: tuple[str, ...]
    """Each in notation, in the same order."""
    hands: tuple[Hand, ...]
    """The hand of each throw in the first repetition; the other one in every second repetition of a
    pattern that swaps hands."""


class _ThrowMade(NamedTuple):
    """A throw, where it is made, and its rank among those that this hand makes at once."""

    site: Site
    rank: int
    throw: Throw


def orbits(pattern: Pattern, first: Hand = "right") -> tuple[Orbit, ...]:
    """Return the orbits in the order of their first throws; a 0 is in none.

    The pattern is one that can be thrown. `first` is the hand of beat 0 where the hands alternate.
    """
    return tuple(_orbit(pattern, cycle, first) for cycle in _cycles(_successors(pattern)))


def start(pattern: Pattern, first: Hand = "right") -> dict[Hand, int]:
    """Return how many objects each hand holds before the first throw.

    Each object is in the hand that will throw it first.
    """
    held: dict[Hand, int] = {"right": 0, "left": 0}
    for place, due in enumerate(state(pattern)):
        for turn, count in enumerate(due):
            held[pattern.hand(turn, place, first)] += count
    return held


def swaps_hands(pattern: Pattern) -> bool:
    """Return whether the next repetition does with each hand what this one does with the other."""
    return pattern.kind == "async" and pattern.period % 2 == 1


def true_period(pattern: Pattern) -> int:
    """Return after how many beats the pattern repeats, as it may do within itself."""
    turns = pattern.turns
    repeats = (
        length
        for length in range(1, len(turns) + 1)
        if len(turns) % length == 0 and turns[length:] == turns[:-length]
    )
    return next(repeats) * pattern.beats_per_turn


def _successors(pattern: Pattern) -> dict[_ThrowMade, _ThrowMade]:
    """Return which throw the object of each throw makes next, repetitions not told apart."""
    turns = len(pattern.turns)
    made: dict[Site, list[_ThrowMade]] = {}
    landing: dict[Site, list[tuple[int, _ThrowMade]]] = {}
    for site, throw in pattern.throws():
        here = made.setdefault(site, [])
        one = _ThrowMade(site, len(here), throw)
        here.append(one)
        turn, place = pattern.landing(site, throw)
        landing.setdefault((turn % turns, place), []).append((-throw.value, one))
    return {
        one: following
        for site, landed in landing.items()
        for (_, one), following in zip(_by_age(landed), made[site], strict=True)
    }


def _by_age(landed: list[tuple[int, _ThrowMade]]) -> list[tuple[int, _ThrowMade]]:
    """Sort landings, longest in the air first; `landed` is in the order written."""
    return sorted(landed, key=lambda entry: entry[0])


def _cycles(successors: dict[_ThrowMade, _ThrowMade]) -> Iterator[list[_ThrowMade]]:
    followed = set()
    for opening in sorted(successors, key=lambda one: (one.site, one.rank)):
        cycle = []
        one = opening
        while one not in followed:
            followed.add(one)
            cycle.append(one)
            one = successors[one]
        if cycle:
            yield sorted(cycle, key=lambda made: (made.site, made.rank))


def _orbit(pattern: Pattern, cycle: list[_ThrowMade], first: Hand) -> Orbit:
    return Orbit(
        objects=sum(made.throw.value for made in cycle) // pattern.period,
        beats=tuple(made.site[0] * pattern.beats_per_turn for made in cycle),
        throws=tuple(str(made.throw) for made in cycle),
        hands=tuple(pattern.hand(*made.site, first) for made in cycle),
    )
