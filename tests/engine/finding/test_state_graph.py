"""The graph of states, against published counts and against networkx."""

from collections import Counter
from fractions import Fraction
from math import comb

import networkx as nx
import pytest

from engine.finding.state_graph import all_states, ground_state, transitions
from engine.patterns.jugglable import read
from engine.patterns.pattern import VALUE_DIGITS
from engine.patterns.states import is_prime, state


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
    closed = 0
    for start in all_states(objects, highest):
        reached = Counter([start])
        for _ in range(period):
            following: Counter[int] = Counter()
            for before, ways in reached.items():
                for _, after in transitions(before, highest):
                    following[after] += ways
            reached = following
        closed += reached[start]
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
    assert named[0] == ground_state(3)
    chances = dict(zip(named, [Fraction(share, 15) for share in (8, 4, 2, 1)], strict=True))
    walked: Counter[int] = Counter()
    for before, chance in chances.items():
        following = transitions(before, 4)
        for _, after in following:
            walked[after] += chance / len(following)
    # The graph is connected, so that only one distribution stays as it is.
    assert walked == chances
    assert nx.is_strongly_connected(graph_of(3, 4))
