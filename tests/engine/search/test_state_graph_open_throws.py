"""Throws from a state, open or not, against the graph of states.

Prime patterns as cycles, against the cycles that networkx finds.
"""

from collections import Counter

import networkx as nx
import pytest

from throwcount.engine.patterns.pattern import written_turn
from throwcount.engine.patterns.rows import HandLimits, chosen_rotation
from throwcount.engine.search.state_graph import (
    all_states,
    open_throws,
    prime_cycles,
    state_graph,
    states_of,
    throws_from_ground,
    transitions,
    turns_from,
)

OTHERS = [
    HandLimits("sync", 6),
    HandLimits("async", 4, 2),
    HandLimits("sync", 4, 2),
    HandLimits("async", 3, 3),
]


@pytest.mark.parametrize("highest", range(1, 8))
def test_open_throws_are_the_arrows_of_the_graph(highest: int) -> None:
    hands = HandLimits(highest=highest)
    for objects in range(1, highest + 1):
        for number, state in zip(
            all_states(objects, highest), states_of(hands, objects), strict=True
        ):
            throws = open_throws(hands, state)
            assert [throw.value for throw in throws] == list(range(highest + 1))
            leading = [(one.value, bits(one.leads_to[0])) for one in throws if one.leads_to]
            assert leading == transitions(number, highest)
            assert all((one.leads_to is None) == (one.obstacle is not None) for one in throws)


def bits(due: tuple[int, ...]) -> int:
    return sum(1 << ahead for ahead, count in enumerate(due) if count)


def test_why_not() -> None:
    from_1101 = [throw.obstacle for throw in open_throws(HandLimits(highest=6), ((1, 1, 0, 1),))]
    assert from_1101 == ["object due", "beat taken", None, "beat taken", None, None, None]
    from_0111 = [throw.obstacle for throw in open_throws(HandLimits(highest=4), ((0, 1, 1, 1),))]
    assert from_0111 == [None, *["nothing due"] * 4]


@pytest.mark.parametrize("hands", OTHERS, ids=repr)
def test_turns_come_first_and_then_the_throws_that_none_of_them_holds(hands: HandLimits) -> None:
    for state in states_of(hands, 4):
        throws = open_throws(hands, state)
        turns = list(turns_from(hands, state))
        is_open = throws[: len(turns)]
        assert [one.written for one in is_open] == [
            written_turn(hands.kind, turn) for turn, _ in turns
        ]
        assert [one.leads_to for one in is_open] == [following for _, following in turns]
        closed = throws[len(turns) :]
        assert all(one.obstacle and one.leads_to is None for one in closed)
        for place in range(hands.places):
            hand = None if hands.kind == "async" else ("left", "right")[place]
            held = {str(throw) for turn, _ in turns for throw in turn[place]}
            held |= {"0" for turn, _ in turns if not turn[place]}
            shut = {one.written for one in closed if one.hand == hand}
            assert not held & shut
            crossed = [""] if hands.kind == "async" else ["", "x"]
            step = hands.places
            every = {
                f"{value}{x}" for value in range(step, hands.highest + 1, step) for x in crossed
            }
            assert held | shut == every | {"0"}


def test_why_not_in_pairs() -> None:
    throws = open_throws(HandLimits("sync", 4), ((1, 1), (0, 1)))
    told = [(one.hand, one.written, one.obstacle) for one in throws]
    assert told == [
        (None, "(4,0)", None),
        (None, "(4x,0)", None),
        ("left", "0", "object due"),
        ("left", "2", "beat taken"),
        ("left", "2x", "beat taken"),
        *[("right", throw, "nothing due") for throw in ("2", "2x", "4", "4x")],
    ]


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
    [(1, 4, 4), (2, 4, 6), (2, 6, 15), (4, 6, 10), (3, 6, 20), (4, 7, 9), (5, 7, 8), (4, 8, 8)],
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
            graph_of(objects, highest), (1 << objects) - 1
        )
        for state, length in lengths.items():
            assert throws_from_ground(state, objects) == length


def test_cycles_through_the_ground_state_begin_there() -> None:
    graph = state_graph(3, 6)
    assert graph.states[0] == 0b111
    for period in range(1, 8):
        for values in prime_cycles(graph, period, roots=[0]):
            state = 0b111
            for value in values:
                state = dict(transitions(state, 6))[value]
                assert state != 0b111 or value == values[-1]
            assert state == 0b111


def test_values_that_are_left_out() -> None:
    whole, less = state_graph(3, 6), state_graph(3, 6, without=[2, 5])
    for period in range(1, 8):
        kept = [one for one in prime_cycles(whole, period) if not {2, 5} & set(one)]
        assert sorted(prime_cycles(less, period)) == sorted(kept)
