"""The graph of states, against published counts and against networkx."""

from collections import Counter
from collections.abc import Callable, Hashable, Iterable
from fractions import Fraction
from functools import partial
from math import comb
from typing import TypeVar

import networkx as nx
import pytest

from throwcount.engine.patterns.pattern import VALUE_DIGITS, Kind
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.rules import read
from throwcount.engine.patterns.states import State, after, ground_states, is_prime, state
from throwcount.engine.search.find import PatternQuery, find
from throwcount.engine.search.state_graph import (
    all_states,
    number_of_states,
    states_of,
    transitions,
    turns_from,
    turns_to,
)

Node = TypeVar("Node", bound=Hashable)


def graph_of(objects: int, highest: int) -> nx.DiGraph:
    graph = nx.DiGraph()
    graph.add_nodes_from(all_states(objects, highest))
    for before in all_states(objects, highest):
        for value, following in transitions(before, highest):
            graph.add_edge(before, following, value=value)
    return graph


@pytest.mark.parametrize(
    ("highest", "objects", "states", "throws"), [(6, 3, 20, 50), (7, 4, 35, 95)]
)
def test_known_sizes(highest: int, objects: int, states: int, throws: int) -> None:
    graph = graph_of(objects, highest)
    assert (graph.number_of_nodes(), graph.number_of_edges()) == (states, throws)


@pytest.mark.parametrize("highest", range(1, 9))
def test_sizes(highest: int) -> None:
    """C(h, b) states and C(h-1, b-1)(h-b+1) + C(h-1, b) throws, by counting bits."""
    for objects in range(1, highest + 1):
        graph = graph_of(objects, highest)
        assert graph.number_of_nodes() == comb(highest, objects)
        busy = comb(highest - 1, objects - 1) * (highest - objects + 1)
        assert graph.number_of_edges() == busy + comb(highest - 1, objects)
        assert nx.is_strongly_connected(graph)


@pytest.mark.parametrize(("objects", "period"), [(1, 6), (2, 5), (3, 4), (4, 3)])
def test_closed_walks_are_the_patterns(objects: int, period: int) -> None:
    """(b + 1)^n - b^n of n beats: Buhler, Eisenbud, Graham & Wright (1994)."""
    highest = objects * period
    closed = sum(
        closed_walks(lambda state: transitions(state, highest), start, period)
        for start in all_states(objects, highest)
    )
    assert closed == (objects + 1) ** period - objects**period


@pytest.mark.parametrize(
    ("objects", "counts"),
    [
        (2, {1: 1, 2: 2, 3: 5, 4: 10}),  # OEIS A260744
        (3, {1: 1, 2: 3, 3: 11}),  # OEIS A260745
    ],
)
def test_cycles_are_the_prime_patterns(objects: int, counts: dict[int, int]) -> None:
    longest = max(counts)
    graph = graph_of(objects, objects * longest)
    cycles = list(nx.simple_cycles(graph, length_bound=longest))
    assert Counter(map(len, cycles)) == counts
    for cycle in cycles:
        steps = zip(cycle, [*cycle[1:], cycle[0]], strict=True)
        pattern = read("".join(VALUE_DIGITS[graph.edges[step]["value"]] for step in steps))
        assert is_prime(pattern)
        due = "".join(map(str, state(pattern)[0]))
        assert int(due[::-1], 2) == cycle[0]


def test_random_walk() -> None:
    """Uniform legal throws, h = 4, b = 3: 8, 4, 2, 1 over 15 (Warrington, Monthly 112 (2005))."""
    written = ["1110", "1101", "1011", "0111"]  # the next beat first
    named = [int(due[::-1], 2) for due in written]
    assert sorted(named) == all_states(3, 4)
    assert named[0] == 0b111
    chances = dict(zip(named, [Fraction(share, 15) for share in (8, 4, 2, 1)], strict=True))
    walked: Counter[int] = Counter()
    for before, chance in chances.items():
        following = transitions(before, 4)
        for _, to in following:
            walked[to] += chance / len(following)
    # The graph is connected, so that only one distribution stays as it is.
    assert walked == chances
    assert nx.is_strongly_connected(graph_of(3, 4))


HEIGHTS: dict[Kind, tuple[int, ...]] = {"async": (1, 2, 3, 5), "sync": (2, 4, 6)}
ALL_HANDS = [
    HandLimits(kind, highest, capacity)
    for kind, heights in HEIGHTS.items()
    for highest in heights
    for capacity in (1, 2, 3)
]


def test_numbers_of_states_where_two_objects_land_at_once() -> None:
    """Trinomial coefficients, (1 + x + x^2)^h: OEIS A027907."""
    rows = {1: [1, 1], 2: [2, 3, 2, 1], 3: [3, 6, 7, 6, 3, 1], 4: [4, 10, 16, 19, 16, 10, 4, 1]}
    for highest, row in rows.items():
        hands = HandLimits("async", highest, 2)
        assert [number_of_states(hands, count) for count in range(1, len(row) + 1)] == row
        in_pairs = HandLimits("sync", highest, 2)  # twice as many sites, in half as many turns
        assert (
            highest % 2
            or [number_of_states(in_pairs, count) for count in range(1, len(row) + 1)] == row
        )


@pytest.mark.parametrize("hands", ALL_HANDS, ids=repr)
def test_states_of_all_hands(hands: HandLimits) -> None:
    for objects in range(1, 7):
        every = list(states_of(hands, objects))
        assert len(every) == len(set(every)) == number_of_states(hands, objects)
        assert all(sum(map(sum, one)) == objects for one in every)
        if not 1 < len(every) <= 200:
            continue
        graph = nx.MultiDiGraph()
        for before in every:
            for turn, following in turns_from(hands, before):
                assert after(before, turn) == following
                graph.add_edge(before, following)
        assert set(graph) == set(every)
        assert nx.is_strongly_connected(graph)
        grounds = set(ground_states(hands.kind, objects))
        if grounds <= set(every):
            lengths = nx.multi_source_dijkstra_path_length(graph, grounds)
            assert lengths == {one: turns_to(hands, one, objects) for one in every}
        else:
            assert {turns_to(hands, one, objects) for one in every} == {None}


@pytest.mark.parametrize("highest", range(1, 8))
def test_simple_states_are_those_of_the_bits(highest: int) -> None:
    hands = HandLimits(highest=highest)
    for objects in range(1, highest + 1):
        every = list(states_of(hands, objects))
        assert list(map(bits, every)) == all_states(objects, highest)
        for one in every:
            leading = [
                (throws[0].value if throws else 0, bits(following))
                for (throws,), following in turns_from(hands, one)
            ]
            assert leading == transitions(bits(one), highest)


def bits(one: State) -> int:
    return sum(1 << ahead for ahead, count in enumerate(one[0]) if count)


def closed_walks(
    steps_from: Callable[[Node], Iterable[tuple[object, Node]]], start: Node, steps: int
) -> int:
    """Return how many walks of so many steps lead from a state back to itself."""
    reached = Counter([start])
    for _ in range(steps):
        following: Counter[Node] = Counter()
        for before, ways in reached.items():
            for _, to in steps_from(before):
                following[to] += ways
        reached = following
    return reached[start]


def test_closed_walks_from_the_ground_state_with_two_at_once() -> None:
    """Two to a hand at the most, base state <1,1>: OEIS A136775, Butler & Graham (2010)."""
    for turns, count in enumerate([1, 3, 11, 40, 145], start=1):
        ways = partial(turns_from, HandLimits("async", turns + 2, 2))
        assert closed_walks(ways, ((1, 1),), turns) == count


@pytest.mark.parametrize(
    ("hands", "objects", "turns"),
    [
        (HandLimits("sync", 6), 3, 2),
        (HandLimits("sync", 4, 2), 3, 2),
        (HandLimits("async", 4, 3), 4, 3),
    ],
    ids=repr,
)
def test_closed_walks_are_the_patterns_of_the_search(
    hands: HandLimits, objects: int, turns: int
) -> None:
    """Each walk is a pattern from some start, or a shorter one several times over."""
    lengths = [length for length in range(1, turns + 1) if turns % length == 0]
    periods = tuple(length * hands.places for length in lengths)
    found = sum(1 for _ in find(PatternQuery(objects, hands, periods, every_start=True)))
    walks = sum(
        closed_walks(partial(turns_from, hands), start, turns)
        for start in states_of(hands, objects)
    )
    assert walks == found
