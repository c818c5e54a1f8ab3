"""All patterns of so many objects, so high and so long, one after another.

Of each set of rotations one pattern is chosen (`engine.patterns.rotation`). Patterns come in order
of period, and then in the order in which they are found; nothing that was found is kept, so that
memory does not grow.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import accumulate
from math import comb
from typing import Final, Literal, TypeAlias

from engine.finding.ground_walks import largest_ground_walks
from engine.finding.necklaces import necklaces
from engine.finding.prime_cycles import prime_cycles, state_graph
from engine.finding.walks import walks
from engine.finding.watch import Watch, part, unwatched
from engine.patterns.ground import ground_states
from engine.patterns.pattern import Pattern
from engine.patterns.rotation import chosen_rotation
from engine.patterns.rows import Hands, Row, plain_text, swapped
from engine.patterns.states import is_prime

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
    return map(query.hands.pattern, _search_rows(query, watch))


def search_texts(query: Query, watch: Watch = unwatched) -> Iterator[str]:
    """Yield the text of every pattern that `search` yields; many times as fast."""
    text = plain_text if query.hands.plain else query.hands.text
    return map(text, _search_rows(query, watch))


def _search_rows(query: Query, watch: Watch) -> Iterator[Row]:
    for period, watch_period in _watched(query.periods, watch):
        if query.hands.kind == "async" and query.symmetry not in {None, _alternating(period)}:
            continue
        turns, rest = divmod(period, query.hands.places)
        if rest == 0:
            yield from _rows(query, turns, watch_period)


def _rows(query: Query, turns: int, watch: Watch) -> Iterator[Row]:
    """Yield the rows of one period."""
    hands, objects = query.hands, query.objects
    if query.prime and _has_small_graph(query, turns):
        return _prime_rows(query, turns, watch)
    if query.ground:
        return _wanted(query, _ground_rows(query, turns, watch))
    classes = _wanted(query, necklaces(hands, objects, turns, watch))
    if query.rotations:
        return (rotation for row in classes for rotation in hands.rotations(row))
    return (chosen_rotation(hands, objects, row) for row in classes)


def _prime_rows(query: Query, turns: int, watch: Watch) -> Iterator[Row]:
    """Return the rows that are cycles of the graph of states; one at most from the ground state."""
    hands, objects = query.hands, query.objects
    graph = state_graph(objects, hands.highest, hands.without)
    roots = [0] if query.ground else None
    rows = _wanted(replace(query, prime=False), prime_cycles(graph, turns, roots, watch))
    if query.rotations and not query.ground:
        return (rotation for row in rows for rotation in hands.rotations(row))
    return rows


def _ground_rows(query: Query, turns: int, watch: Watch) -> Iterator[Row]:
    """Yield the rows from the ground state that do not repeat within themselves."""
    hands, objects = query.hands, query.objects
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


def _wanted(query: Query, rows: Iterator[Row]) -> Iterator[Row]:
    """Return the rows that are looked for; whether one is does not depend on its rotation."""
    hands = query.hands
    if query.containing:
        rows = (row for row in rows if query.containing <= _values(hands, row))
    if query.symmetry and hands.kind == "sync":
        rows = (row for row in rows if query.symmetry == _symmetry(hands, row))
    return (row for row in rows if _is_prime(hands, row)) if query.prime else rows


def _is_prime(hands: Hands, row: Row) -> bool:
    if hands.plain:
        return len(set(_plain_states(row))) == len(row)
    return is_prime(hands.pattern(row))


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
    mirror = swapped(turns)
    same = any(turns[start:] + turns[:start] == mirror for start in range(len(turns)))
    return "symmetric" if same else "one-sided"


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
