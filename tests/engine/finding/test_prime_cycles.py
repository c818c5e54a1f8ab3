"""Prime patterns as cycles, against the cycles that networkx finds."""

from collections import Counter

import networkx as nx
import pytest

from engine.finding.prime_cycles import prime_cycles, state_graph, throws_from_ground
from engine.finding.state_graph import all_states, ground_state, transitions
from engine.patterns.rotation import chosen_rotation
from engine.patterns.rows import HandLimits


def graph_of(objects: int, highest: int) -> nx.DiGraph:
    graph = nx.DiGraph()
    for before in all_states(objects, highest):
        for value, following in transitions(before, highest):
            graph.add_edge(before, following, value=value)
    return graph


def least_rotation(values: list[int]) -> tuple[int, ...]:
    return min(tuple(values[k:] + values[:k]) for k in range(len(values)))


@pytest.mark.parametrize(
    ("objects", "highest", "longest"),
    [(1, 4, 4), (2, 4, 6), (2, 6, 15), (3, 5, 10), (3, 6, 20), (4, 7, 9), (5, 7, 8), (4, 8, 8)],
)
def test_all_cycles(objects: int, highest: int, longest: int) -> None:
    network = graph_of(objects, highest)
    expected: dict[int, Counter[tuple[int, ...]]] = {}
    for cycle in nx.simple_cycles(network, length_bound=longest):
        steps = zip(cycle, [*cycle[1:], cycle[0]], strict=True)
        values = [network.edges[step]["value"] for step in steps]
        expected.setdefault(len(cycle), Counter())[least_rotation(values)] += 1
    graph = state_graph(objects, highest)
    for period in range(1, longest + 1):
        rows = list(prime_cycles(graph, period))
        assert all(row == chosen_rotation(HandLimits(), objects, row) for row in rows)
        found = Counter(least_rotation(list(row)) for row in rows)
        assert found == expected.get(period, Counter())


@pytest.mark.parametrize("highest", range(1, 8))
def test_the_way_from_the_ground_state(highest: int) -> None:
    for objects in range(1, highest + 1):
        lengths = nx.single_source_shortest_path_length(
            graph_of(objects, highest), ground_state(objects)
        )
        for state, length in lengths.items():
            assert throws_from_ground(state, objects) == length


def test_cycles_through_the_ground_state_begin_there() -> None:
    graph = state_graph(3, 6)
    assert graph.states[0] == ground_state(3)
    for period in range(1, 8):
        for values in prime_cycles(graph, period, roots=[0]):
            state = ground_state(3)
            for value in values:
                state = dict(transitions(state, 6))[value]
                assert state != ground_state(3) or value == values[-1]
            assert state == ground_state(3)


def test_values_that_are_left_out() -> None:
    whole, less = state_graph(3, 6), state_graph(3, 6, without=[2, 5])
    for period in range(1, 8):
        kept = [one for one in prime_cycles(whole, period) if not {2, 5} & set(one)]
        assert sorted(prime_cycles(less, period)) == sorted(kept)
