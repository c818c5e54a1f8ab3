"""The state of a pattern: where its objects are due, before any of its turns.

The ground state of N objects has one due on each of the next N turns (N places, when the hands
throw together); a pattern in it is a ground pattern, any other an excited one. See Chung &
Graham, Primitive juggling sequences, Amer. Math. Monthly 115 (2008) 185-194. The patterns given
here can all be thrown.

The ground state of any number of objects, and how far from it a state is.

What each object does in a pattern, where objects start, and what repeats when.

An *orbit* is a set of throws that the same objects go through for ever. Where several objects
land in one hand at once, those thrown earliest take the throws in the order written (of those
thrown at once, left hand before right and in the order written): a convention, as the notation
leaves it open. The patterns given here can all be thrown.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import NamedTuple, TypeAlias

from throwcount.engine.patterns.pattern import Hand, Kind, Pattern, Site, Throw, Turn

Due: TypeAlias = tuple[int, ...]
"""Objects due on each coming turn, the next first, without zeros at the end."""

State: TypeAlias = tuple[Due, ...]
"""One list for each place: a single one when the hands alternate, else left and right."""


def state(pattern: Pattern) -> State:
    """Return the state before the first throw."""
    turns = len(pattern.turns)
    due = [[0] * (pattern.highest // pattern.beats_per_turn) for _ in range(pattern.places)]
    for site, throw in pattern.throws():
        turn, place = pattern.landing(site, throw)
        # The same throw was made in each earlier repetition; those still flying land after now.
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
    """Return the state that `turn` leads to from the state `before` it."""
    due = [list(place[1:]) for place in before]
    for index, throws in enumerate(turn):
        for throw in throws:
            ahead = throw.value // len(turn) - 1
            place = due[index ^ throw.crossed]
            place.extend([0] * (ahead + 1 - len(place)))
            place[ahead] += 1
    return tuple(map(trimmed, due))


def is_ground(one: State) -> bool:
    """Return whether a state is the ground state of its objects.

    When the hands throw together the objects are shared as evenly as can be; of an odd number
    either hand may have one more.
    """
    lengths = [len(place) for place in one]
    return all(due == 1 for place in one for due in place) and max(lengths) - min(lengths) <= 1


def ground(pattern: Pattern) -> bool:
    """Return whether the pattern begins in the ground state."""
    return is_ground(state(pattern))


def visits_ground(pattern: Pattern) -> bool:
    """Return whether the pattern is in the ground state before some turn."""
    return any(map(is_ground, states(pattern)))


def is_prime(pattern: Pattern) -> bool:
    """Return whether no state comes twice in one repetition."""
    return len(set(states(pattern))) == len(pattern.turns)


def due_by_beat(pattern: Pattern) -> list[int] | list[list[int]]:
    """Return the objects due on each coming beat, the next first, before the first throw.

    One list when the hands alternate; when they throw together, one for the left hand and one
    for the right, with a 0 on each odd beat between two turns.
    """
    return by_beat(state(pattern))


def by_beat(one: State) -> list[int] | list[list[int]]:
    """Return a state as `due_by_beat` has it."""
    if len(one) == 1:
        return list(one[0])
    return [_with_odd_beats(place) for place in one]


def _with_odd_beats(place: Due) -> list[int]:
    beats = [0] * (2 * len(place))
    beats[::2] = place
    return beats[:-1]


def trimmed(due: Sequence[int]) -> Due:
    """Return the objects due on each turn without the zeros at the end."""
    zeros = next((index for index, count in enumerate(reversed(due)) if count), len(due))
    return tuple(islice(due, len(due) - zeros))


def ground_states(kind: Kind, objects: int) -> tuple[State, ...]:
    """Return the ground state, or both where the hands throw together an odd number of objects.

    One object is due on each of the next turns, in each hand as evenly as can be; of an odd
    number either hand may have one more.
    """
    if kind == "async":
        return (((1,) * objects,),)
    fewer = (1,) * (objects // 2)
    more = (1,) * (objects - len(fewer))
    return ((more, fewer), (fewer, more)) if len(more) > len(fewer) else ((fewer, fewer),)


def turns_from_ground(state: State, objects: int) -> int:
    """Return the fewest turns that lead from the ground state to `state`, whatever their height.

    After r of them the objects not yet thrown are due without a gap on the first turns, so that
    the state has to have them there. In plain patterns no throw of such a way is higher than the
    state itself asks for.

    Parameters
    ----------
    state
        Of a pattern.
    """
    kind: Kind = "async" if len(state) == 1 else "sync"
    gapless = [_gapless(due) for due in state]
    return min(
        max(0, *(len(due) - free for due, free in zip(ground, gapless, strict=True)))
        for ground in ground_states(kind, objects)
    )


def _gapless(due: tuple[int, ...]) -> int:
    """Return on how many of the next turns some object is due, up to the first with none."""
    return next((turn for turn, count in enumerate(due) if not count), len(due))


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
