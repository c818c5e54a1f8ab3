"""The graph of states: states, the throws between them, and open throws.

In alternating patterns without multiplex a state is an integer used as a bit set: bit k is set if
an object is due k beats ahead, bit 0 on this beat. With b objects and highest throw h there are
C(h, b) states, and C(h - 1, b - 1)(h - b + 1) + C(h - 1, b) throws between them. Patterns are the
closed walks of this graph, prime patterns its cycles (Chung & Graham, Primitive juggling
sequences, Amer. Math. Monthly 115 (2008) 185-194).

Where the hands throw together, or several objects at once, a state is a `State`, and turns take
the place of throws (Butler & Graham, Enumerating (multiplex) juggling sequences, Ann. Comb. 13
(2010) 413-424).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, combinations_with_replacement, product
from typing import Literal, TypeAlias

from throwcount.engine.patterns.pattern import Hand, Throw, Turn, written_turn
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.states import (
    State,
    after,
    due_at,
    ground_states,
    trimmed,
    turns_from_ground,
)


def all_states(objects: int, highest: int) -> list[int]:
    """Return all states of `objects` objects that throws up to `highest` lead to, in order."""
    chosen = combinations(range(highest), objects)
    return sorted(sum(1 << ahead for ahead in due) for due in chosen)


def transitions(state: int, highest: int) -> list[tuple[int, int]]:
    """Return each throw value that is possible in `state`, with the state it leads to."""
    waiting = state >> 1
    if not state & 1:
        return [(0, waiting)]
    return [
        (value, waiting | 1 << (value - 1))
        for value in range(1, highest + 1)
        if not waiting >> (value - 1) & 1
    ]


def number_of_states(hands: HandLimits, objects: int) -> int:
    """Return how many states `states_of` yields."""
    ways = [1] + [0] * objects
    for _ in range(hands.farthest * hands.places):
        ways = [sum(ways[max(due - hands.capacity, 0) : due + 1]) for due in range(objects + 1)]
    return ways[objects]


def states_of(hands: HandLimits, objects: int) -> Iterator[State]:
    """Yield all states of `objects` objects, at least 1, that the throws of such hands lead to.

    They come in the order of `all_states`. The `without` of `hands` is ignored.
    """
    for counts in _shared_out(objects, hands.farthest * hands.places, hands.capacity):
        yield tuple(trimmed(counts[place :: hands.places]) for place in range(hands.places))


def turns_from(hands: HandLimits, state: State) -> Iterator[tuple[Turn, State]]:
    """Yield each turn that can be thrown in a state, the lowest first, with the next state."""
    free = [
        [throw for throw in throws_of(hands) if has_room(hands, state, place, throw)]
        for place in range(hands.places)
    ]
    choices = [
        [thrown[::-1] for thrown in combinations_with_replacement(throws, due_at(due))]
        for throws, due in zip(free, state, strict=True)
    ]
    for turn in product(*choices):
        following = after(state, turn)
        if all(count <= hands.capacity for due in following for count in due):
            yield turn, following


def throws_of(hands: HandLimits) -> list[Throw]:
    """Return every throw of one object that a hand may make, the lowest first."""
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


def turns_to(hands: HandLimits, state: State, objects: int) -> int | None:
    """Return the fewest turns from the ground state; None if such hands cannot reach the state."""
    ground = ground_states(hands.kind, objects)[0]
    if max(map(len, ground)) > hands.farthest:
        return None
    return turns_from_ground(state, objects)


def _shared_out(objects: int, sites: int, most: int) -> Iterator[tuple[int, ...]]:
    """Yield all ways to share objects out among sites, `most` at each, the last empty first."""
    if not sites:
        yield ()
        return
    for count in range(max(objects - most * (sites - 1), 0), min(most, objects) + 1):
        for others in _shared_out(objects - count, sites - 1, most):
            yield (*others, count)


Obstacle: TypeAlias = Literal["object due", "nothing due", "beat taken"]
"""Why a throw is not open: an object has to be thrown, there is none, or too many would land."""


@dataclass(frozen=True, slots=True)
class OpenThrow:
    """A throw from some state, open or not."""

    written: str
    """In notation: what both hands throw if it is open, else one throw of one hand."""
    value: int
    """The highest throw value in it."""
    leads_to: State | None = None
    """The state after it; None if it is not open."""
    obstacle: Obstacle | None = None
    """Why it is not open; None if it is."""
    hand: Hand | None = None
    """Whose throw is not open, where the hands throw together."""


def open_throws(hands: HandLimits, state: State) -> list[OpenThrow]:
    """Return every throw up to the highest from a state of `states_of`, open or not.

    Where the hands alternate and throw one object at a time, they come in order of value. Else the
    turns that are open come first, and then each throw that no turn can hold.
    """
    is_open = [
        OpenThrow(
            written_turn(hands.kind, turn),
            max((throw.value for throws in turn for throw in throws), default=0),
            following,
        )
        for turn, following in turns_from(hands, state)
    ]
    throws = [*is_open, *_closed(hands, state)]
    return sorted(throws, key=lambda throw: throw.value) if hands.plain else throws


def _closed(hands: HandLimits, state: State) -> Iterator[OpenThrow]:
    names: tuple[Hand | None, ...] = ("left", "right") if hands.kind == "sync" else (None,)
    for place, (hand, due) in enumerate(zip(names, state, strict=True)):
        if due_at(due):
            yield OpenThrow("0", 0, obstacle="object due", hand=hand)
        for throw in throws_of(hands):
            written, value = str(throw), throw.value
            if not due_at(due):
                yield OpenThrow(written, value, obstacle="nothing due", hand=hand)
            elif not has_room(hands, state, place, throw):
                yield OpenThrow(written, value, obstacle="beat taken", hand=hand)
