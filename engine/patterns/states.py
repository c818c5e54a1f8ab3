"""States of a pattern, ground states, orbits, and true periods.

A *state* says when objects are due. The *ground state* of N objects has one due on each of the
next N turns, or N places if the hands throw together; a pattern that begins in it is a ground
pattern, any other is excited (Chung & Graham, Primitive juggling sequences, Amer. Math. Monthly
115 (2008) 185-194).

An *orbit* is a set of throws that the same objects go through for ever. Where several objects
land in one hand at once, those thrown earliest take the throws in the order written; of those
thrown at once, the left hand's before the right's, each in the order written. This is a
convention, as the notation leaves it open.

All patterns passed in must be ones that can be thrown.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, pairwise
from typing import NamedTuple, TypeAlias

from throwcount.engine.patterns.pattern import Hand, Kind, Pattern, Site, Throw, Turn, in_order

Due: TypeAlias = tuple[int, ...]
"""Objects due on each coming turn, the next first, without zeros at the end."""

State: TypeAlias = tuple[Due, ...]
"""The objects due at each place: one when the hands alternate, else left and right."""


def state(pattern: Pattern) -> State:
    """Return the state before the first throw."""
    turns = len(pattern.turns)
    due = [[0] * (pattern.highest // pattern.beats_per_turn) for _ in range(pattern.places)]
    for site, throw in pattern.throws():
        turn, place = pattern.landing(site, throw)
        # The same throw was made in each earlier repetition; those still in the air land later.
        for landing in range(turn % turns, turn - turns + 1, turns):
            due[place][landing] += 1
    return tuple(map(trimmed, due))


def states(pattern: Pattern) -> Iterator[State]:
    """Yield the state before each turn of one repetition."""
    current = state(pattern)
    for turn in pattern.turns:
        yield current
        current = after(current, turn)


def after(before: State, turn: Turn) -> State:
    """Return the state that `turn` leads to from the state `before`."""
    due = [list(place[1:]) for place in before]
    for index, throws in enumerate(turn):
        for throw in throws:
            ahead = throw.value // len(turn) - 1
            place = due[index ^ throw.crossed]
            place.extend([0] * (ahead + 1 - len(place)))
            place[ahead] += 1
    return tuple(map(trimmed, due))


def is_ground(one: State) -> bool:
    """Return whether a state is a ground state, as `ground_states` has them."""
    lengths = [len(place) for place in one]
    return all(due == 1 for place in one for due in place) and max(lengths) - min(lengths) <= 1


def begins_at_once(one: State) -> bool:
    """Return whether a juggler simply begins in a state, with nothing to be thrown before.

    Ground states are such states, and so are others with two or more in one hand, if that hand
    simply throws first (common practice): it has all of the objects, as in 40 or 50505, or it has
    several that are due at once, as in [33]33, while the number due never rises from beat to beat.
    Mathematically these are excited, but no juggler who fills their hands for them would say so.
    """
    if len(one) == 1:
        hands = [one[0][first::2] for first in (0, 1)]
        lengths = [0, 0]
    else:
        hands, lengths = list(one), [len(place) for place in one]
    if min(map(sum, hands)) == 0 and max(map(sum, hands)) > 1:
        return True
    falling = all(now >= later for place in one for now, later in pairwise(place))
    return falling and abs(lengths[0] - lengths[1]) <= 1


def ground(pattern: Pattern) -> bool:
    """Return whether the pattern begins in the ground state."""
    return is_ground(state(pattern))


def visits_ground(pattern: Pattern) -> bool:
    """Return whether the pattern is in the ground state before some turn."""
    return any(map(is_ground, states(pattern)))


def is_prime(pattern: Pattern) -> bool:
    """Return whether no state recurs within one repetition."""
    return len(set(states(pattern))) == len(pattern.turns)


def due_by_beat(pattern: Pattern) -> list[int] | list[list[int]]:
    """Return the state before the first throw, as `by_beat` gives it."""
    return by_beat(state(pattern))


def by_beat(one: State) -> list[int] | list[list[int]]:
    """Return the objects due on each coming beat, the next first.

    One list when the hands alternate; when they throw together, one for the left hand and one
    for the right, with a 0 on each odd beat between two turns.
    """
    if len(one) == 1:
        return list(one[0])
    return [[count for due in place for count in (due, 0)][:-1] for place in one]


def trimmed(due: Sequence[int]) -> Due:
    """Return `due` without the zeros at the end."""
    zeros = next((index for index, count in enumerate(reversed(due)) if count), len(due))
    return tuple(islice(due, len(due) - zeros))


def due_at(due: Due, turn: int = 0) -> int:
    """Return how many objects are due on a turn ahead; 0 is the coming one."""
    return due[turn] if turn < len(due) else 0


def ground_states(kind: Kind, objects: int) -> tuple[State, ...]:
    """Return the ground state, or both of an odd number of objects when the hands throw together.

    One object is due at each place of the next turns, shared between the hands as evenly as can
    be; of an odd number, either hand may have one more.
    """
    if kind == "async":
        return (((1,) * objects,),)
    fewer = (1,) * (objects // 2)
    more = (1,) * (objects - len(fewer))
    return ((more, fewer), (fewer, more)) if len(more) > len(fewer) else ((fewer, fewer),)


def turns_from_ground(state: State, objects: int) -> int:
    """Return the fewest turns from the ground state to `state`, however high their throws.

    The objects not yet thrown by then are due without a gap on the first turns of `state`. In
    plain patterns no throw needs to be higher than `state` itself asks for.
    """
    kind: Kind = "async" if len(state) == 1 else "sync"
    gapless = [(*due, 0).index(0) for due in state]
    return min(
        max(0, *(len(due) - free for due, free in zip(ground, gapless, strict=True)))
        for ground in ground_states(kind, objects)
    )


@dataclass(frozen=True, slots=True)
class Orbit:
    """The throws that the same objects go through."""

    objects: int
    """How many objects share it."""
    beats: tuple[int, ...]
    """The beat of each throw in one repetition, in order; listed twice if two are made at once."""
    throws: tuple[str, ...]
    """The throws in notation, in the same order."""
    hands: tuple[Hand, ...]
    """The hand of each throw in the first repetition; if the pattern swaps hands, it is the other
    hand in every second repetition."""


class _ThrowMade(NamedTuple):
    """A throw, where it is made, and its rank among those that this hand makes at once."""

    site: Site
    rank: int
    throw: Throw


def orbits(pattern: Pattern, first: Hand = "right") -> tuple[Orbit, ...]:
    """Return the orbits in the order of their first throws; a 0 belongs to none.

    `first` is the hand of beat 0 if the hands alternate.
    """
    return tuple(
        Orbit(
            objects=sum(made.throw.value for made in cycle) // pattern.period,
            beats=tuple(made.site[0] * pattern.beats_per_turn for made in cycle),
            throws=tuple(str(made.throw) for made in cycle),
            hands=tuple(pattern.hand(*made.site, first) for made in cycle),
        )
        for cycle in _cycles(_successors(pattern))
    )


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
    """Return after how many beats the pattern repeats; it may do so within its written length."""
    turns = in_order(pattern.turns)
    repeats = (
        length
        for length in range(1, len(turns) + 1)
        if len(turns) % length == 0 and turns[length:] == turns[:-length]
    )
    return next(repeats) * pattern.beats_per_turn


def _successors(pattern: Pattern) -> dict[_ThrowMade, _ThrowMade]:
    """Return for each throw the one that its object makes next, modulo the repetition."""
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
        # Longest in the air first, and then in the order written.
        for (_, one), following in zip(
            sorted(landed, key=lambda entry: entry[0]), made[site], strict=True
        )
    }


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
