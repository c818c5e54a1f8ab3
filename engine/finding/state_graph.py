"""The states of patterns, and the throws between them.

In simple alternating patterns a state is a whole number used as a row of bits: bit k is set if an
object is due k beats ahead, bit 0 on this beat. With b objects and highest throw h there are
C(h, b) states, and C(h - 1, b - 1)(h - b + 1) + C(h - 1, b) throws between them. The patterns
without multiplex are the closed walks of this graph, the prime ones its cycles (Chung & Graham,
Primitive juggling sequences, Amer. Math. Monthly 115 (2008) 185-194).

Where the hands throw together, or several objects at once, a state is a `State`, and the turns
from one state to another take the place of the throws (Butler & Graham, Enumerating (multiplex)
juggling sequences, Ann. Comb. 13 (2010) 413-424).
"""

from collections.abc import Iterator
from itertools import combinations, combinations_with_replacement, product

from engine.patterns.ground import ground_states, turns_from_ground
from engine.patterns.pattern import Throw, Throws, Turn
from engine.patterns.rows import HandLimits
from engine.patterns.states import State, after, trimmed


def ground_state(objects: int) -> int:
    """Return the state with an object due on each of the next `objects` beats."""
    return (1 << objects) - 1


def all_states(objects: int, highest: int) -> list[int]:
    """Return all states of `objects` objects that throws up to `highest` lead to, in order."""
    chosen = combinations(range(highest), objects)
    return sorted(sum(1 << ahead for ahead in due) for due in chosen)


def transitions(state: int, highest: int) -> list[tuple[int, int]]:
    """Return each throw value possible in `state`, 0 to `highest`, with the state it leads to."""
    waiting = state >> 1
    if not state & 1:
        return [(0, waiting)]
    return [
        (value, waiting | 1 << (value - 1))
        for value in range(1, highest + 1)
        if not waiting >> (value - 1) & 1
    ]


def number_of_states(hands: HandLimits, objects: int) -> int:
    """Return in how many ways `objects` objects can be due where such hands have thrown them."""
    ways = [1] + [0] * objects
    for _ in range(hands.farthest * hands.places):
        ways = [sum(ways[max(due - hands.capacity, 0) : due + 1]) for due in range(objects + 1)]
    return ways[objects]


def states_of(hands: HandLimits, objects: int) -> Iterator[State]:
    """Yield all states of `objects` objects that such hands lead to, in the order of `all_states`.

    `hands` tells what may be thrown; `without` is not looked at. `objects` is how many there are,
    at least 1.
    """
    for counts in _shared_out(objects, hands.farthest * hands.places, hands.capacity):
        yield tuple(trimmed(counts[place :: hands.places]) for place in range(hands.places))


def turns_from(hands: HandLimits, state: State) -> Iterator[tuple[Turn, State]]:
    """Yield each turn that can be thrown in a state, the lowest first, with where it leads to."""
    free = [
        [throw for throw in throws_of(hands) if has_room(hands, state, place, throw)]
        for place in range(hands.places)
    ]
    choices = [
        list(map(_from_the_highest, combinations_with_replacement(throws, due_now(due))))
        for throws, due in zip(free, state, strict=True)
    ]
    for turn in product(*choices):
        following = after(state, turn)
        if all(count <= hands.capacity for due in following for count in due):
            yield turn, following


def throws_of(hands: HandLimits) -> list[Throw]:
    """Return every throw that a hand may make of one object, the lowest first."""
    crossings = (False, True) if hands.kind == "sync" else (False,)
    return [
        Throw(ahead * hands.places, crossed)
        for ahead in range(1, hands.farthest + 1)
        for crossed in crossings
    ]


def has_room(hands: HandLimits, state: State, place: int, throw: Throw) -> bool:
    """Return whether fewer objects than a hand throws at once are due where a throw lands."""
    due = state[place ^ throw.crossed]
    ahead = throw.value // hands.places
    return ahead >= len(due) or due[ahead] < hands.capacity


def due_now(due: tuple[int, ...]) -> int:
    """Return how many objects a hand has to throw in the next turn."""
    return due[0] if due else 0


def turns_to(hands: HandLimits, state: State, objects: int) -> int | None:
    """Return the fewest turns from the ground state; None where that takes higher throws."""
    ground = ground_states(hands.kind, objects)[0]
    if max(map(len, ground)) > hands.farthest:
        return None
    return turns_from_ground(state, objects)


def _shared_out(objects: int, sites: int, most: int) -> Iterator[tuple[int, ...]]:
    """Yield all ways to share objects out among sites, those with the last sites empty first."""
    if not sites:
        yield ()
        return
    for count in range(max(objects - most * (sites - 1), 0), min(most, objects) + 1):
        for others in _shared_out(objects - count, sites - 1, most):
            yield (*others, count)


def _from_the_highest(throws: Throws) -> Throws:
    return throws[::-1]
