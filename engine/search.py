"""All patterns of so many objects, so high and so long, one after another.

Of each set of rotations one pattern is chosen: the one that begins in the state nearest to the
ground state, as it takes the fewest throws to get into; and of several the one whose throws,
compared from the first on, are largest. Patterns come in order of period, and then in the order
in which they are found; nothing that was found is kept, so that memory does not grow.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate
from math import comb
from typing import Final, Literal, TypeAlias

from engine.ground import ground_states, turns_from_ground
from engine.ground_walks import largest_ground_walks
from engine.necklaces import necklaces
from engine.pattern import Pattern
from engine.prime_cycles import prime_cycles, state_graph
from engine.rows import Hands, Row, swapped
from engine.states import states
from engine.walks import walks
from engine.watch import Watch, part, unwatched

Symmetry: TypeAlias = Literal["symmetric", "one-sided"]

LARGEST_GRAPH: Final = 1000
"""States up to which prime patterns are found as cycles of the whole graph.

Where there are more, patterns of a usual length are mostly prime, and they are picked out of all.
The same goes for short periods in a graph that is not quite small.
"""


@dataclass(frozen=True, slots=True)
class Query:
    """What is looked for.

    Parameters
    ----------
    objects
        How many there are, at least 1.
    hands
        Whether they alternate, how high they throw, how many at once, which values never.
    periods
        The true periods, in beats, in the order wanted.
    rotations
        Whether each rotation counts as a pattern of its own.
    prime
        Only patterns in which no state comes twice.
    ground
        Only patterns that pass through the ground state; they begin in it.
    containing
        Throw values that each pattern has; a 0 is a hand that throws nothing.
    symmetry
        ``"symmetric"`` for patterns that are the same, begun elsewhere or not, with the hands
        swapped: where these alternate, the patterns with an odd period. ``"one-sided"`` for all
        others, in which each hand keeps throws of its own.
    """

    objects: int
    hands: Hands
    periods: tuple[int, ...]
    rotations: bool = False
    prime: bool = False
    ground: bool = False
    containing: frozenset[int] = frozenset()
    symmetry: Symmetry | None = None


def search(query: Query, watch: Watch = unwatched) -> Iterator[Pattern]:
    """Yield every pattern that is looked for, once.

    Parameters
    ----------
    query
        What is looked for.
    watch
        Called now and then with the share of the search that is done.
    """
    for period, watch_period in _watched(query.periods, watch):
        if query.hands.kind == "async" and query.symmetry not in {None, _alternating(period)}:
            continue
        turns, rest = divmod(period, query.hands.places)
        if rest == 0:
            for row in _rows(query, turns, watch_period):
                yield query.hands.pattern(row)


def chosen_rotation(hands: Hands, objects: int, row: Row) -> Row:
    """Return the rotation from the state nearest to the ground state; of several the largest.

    Parameters
    ----------
    hands
        Whose codes the row has.
    objects
        How many there are.
    row
        One repetition of a pattern.
    """
    ways = _turns_from_ground(hands, objects, row)
    shortest = min(ways)
    starts = [turn * hands.lanes for turn, way in enumerate(ways) if way == shortest]
    return max([row[start:] + row[:start] for start in starts])


def _rows(query: Query, turns: int, watch: Watch) -> Iterator[Row]:
    """Yield the rows of one period."""
    hands, objects = query.hands, query.objects
    if query.ground:
        found = _ground_rows(query, turns, watch)
        return (row for row in found if _is_wanted(query, row))
    if query.prime and _has_small_graph(query, turns):
        graph = state_graph(objects, hands.highest, hands.without)
        classes = prime_cycles(graph, turns, watch=watch)
    else:
        classes = necklaces(hands, objects, turns, watch)
    wanted = (row for row in classes if _is_wanted(query, row))
    if query.rotations:
        return (rotation for row in wanted for rotation in hands.rotations(row))
    return (chosen_rotation(hands, objects, row) for row in wanted)


def _ground_rows(query: Query, turns: int, watch: Watch) -> Iterator[Row]:
    """Yield the rows from the ground state that do not repeat within themselves."""
    hands, objects = query.hands, query.objects
    if query.prime and _has_small_graph(query, turns):
        yield from prime_cycles(
            state_graph(objects, hands.highest, hands.without), turns, roots=[0], watch=watch
        )
        return
    grounds = ground_states(hands.kind, objects)
    if query.rotations:
        every = (row for ground in grounds for row in walks(hands, ground, ground, turns, watch))
        yield from (row for row in every if not hands.repeats(row))
        return
    for row in largest_ground_walks(hands, grounds, turns, watch):
        if row == chosen_rotation(hands, objects, row) and not hands.repeats(row):
            yield row


def _has_small_graph(query: Query, turns: int) -> bool:
    states = comb(query.hands.highest, query.objects)
    return query.hands.plain and states <= min(LARGEST_GRAPH, 4 << turns)


def _is_wanted(query: Query, row: Row) -> bool:
    """Return whether a row is what is looked for, whatever its rotation."""
    hands = query.hands
    if query.containing and not query.containing <= _values(hands, row):
        return False
    if query.symmetry and query.symmetry != _symmetry(hands, row):
        return False
    if not query.prime:
        return True
    if hands.plain:
        return len(set(_plain_states(row))) == len(row)
    every = list(states(hands.pattern(row)))
    return len(set(every)) == len(every)


def _values(hands: Hands, row: Row) -> set[int]:
    """Return the throw values of a row; 0 where a hand throws nothing."""
    if hands.plain:
        return set(row)
    throws = [throws for turn in hands.turns(row) for throws in turn]
    return {throw.value for several in throws for throw in several} | {
        0 for none in throws if not none
    }


def _alternating(period: int) -> Symmetry:
    return "symmetric" if period % 2 else "one-sided"


def _symmetry(hands: Hands, row: Row) -> Symmetry:
    turns = hands.turns(row)
    if hands.kind == "async":
        return _alternating(len(turns))
    mirror = swapped(turns)
    same = any(turns[start:] + turns[:start] == mirror for start in range(len(turns)))
    return "symmetric" if same else "one-sided"


def _turns_from_ground(hands: Hands, objects: int, row: Row) -> list[int]:
    """Return how far from the ground state each rotation of a row begins."""
    if not hands.plain:
        return [turns_from_ground(one, objects) for one in states(hands.pattern(row))]
    # The first landing of the throws to come is the first beat on which no object is due yet.
    length = len(row)
    landings = [beat + value for beat, value in enumerate(row)]
    earliest = min(landings) + length
    ways = [0] * length
    for beat in range(length - 1, -1, -1):
        earliest = min(earliest, landings[beat])
        ways[beat] = objects - (earliest - beat)
    return ways


def _plain_states(row: Row) -> Iterator[int]:
    """Yield the state before each throw, as a row of bits."""
    length = len(row)
    state = 0
    for beat, value in enumerate(row):
        for landing in range(beat + value - length, -1, -length):
            state |= 1 << landing
    for value in row:
        yield state
        state = state >> 1 | (1 << value >> 1)


def _watched(periods: tuple[int, ...], watch: Watch) -> Iterator[tuple[int, Watch]]:
    """Yield each period with a watch for its part of the whole; longer ones take far longer."""
    weights = [2.0 ** (period - max(periods)) for period in periods]
    whole = sum(weights)
    ends = accumulate(weights)
    for period, weight, end in zip(periods, weights, ends, strict=True):
        yield period, part(watch, (end - weight) / whole, weight / whole)
