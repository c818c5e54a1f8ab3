"""Counts without a search, against the search, the published formula and matrix powers."""

import networkx as nx
import numpy as np
import pytest

from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.search.find import Filter, PatternQuery, count, find, magnitude
from throwcount.engine.search.state_graph import all_states, transitions


@pytest.mark.parametrize(("objects", "highest"), [(1, 5), (2, 6), (3, 6), (3, 30), (4, 7)])
@pytest.mark.parametrize("every_start", [False, True])
@pytest.mark.parametrize("only", [(), ("symmetric",), ("one-sided",), ("symmetric", "one-sided")])
@pytest.mark.parametrize("without", [frozenset(), frozenset({2}), frozenset({0, 5})])
def test_count_is_what_the_search_finds(
    objects: int,
    highest: int,
    every_start: bool,
    only: tuple[Filter, ...],
    without: frozenset[int],
) -> None:
    hands = HandLimits(highest=highest, without=without)
    asked = PatternQuery(
        objects, hands, (1, 2, 3, 4, 6), every_start=every_start, only=frozenset(only)
    )
    known = count(asked)
    found = sum(1 for _ in find(asked))
    assert known == found or (known is None and highest == 30 and without)


@pytest.mark.parametrize("period", [1, 4, 6])
def test_count_from_the_ground_state(period: int) -> None:
    asked = PatternQuery(
        3, HandLimits(highest=7), (period,), every_start=True, only=frozenset({"ground"})
    )
    assert count(asked) == sum(1 for _ in find(asked))


@pytest.mark.parametrize(("objects", "highest", "period"), [(3, 6, 13), (4, 8, 17), (2, 9, 11)])
def test_count_of_a_prime_period_by_matrix_powers(objects: int, highest: int, period: int) -> None:
    """Closed walks of n steps are the trace of the n-th power of the adjacency matrix."""
    graph = nx.DiGraph()
    for before in all_states(objects, highest):
        graph.add_edges_from((before, following) for _, following in transitions(before, highest))
    matrix = nx.to_numpy_array(graph, dtype=np.int64).astype(object)
    walks = np.trace(np.linalg.matrix_power(matrix, period)) - np.trace(matrix)
    assert count(PatternQuery(objects, HandLimits(highest=highest), (period,))) == walks // period


def test_count_without_a_limit_to_the_height() -> None:
    """(b + 1)^n - b^n sequences of period n: Buhler, Eisenbud, Graham & Wright (1994)."""
    asked = PatternQuery(3, HandLimits(highest=33), (11,), every_start=True)
    assert count(asked) == 4**11 - 3**11 - 1  # but for the 3 alone, written eleven times


@pytest.mark.parametrize(
    "asked",
    [
        PatternQuery(3, HandLimits(highest=6), (4,), only=frozenset({"prime"})),
        PatternQuery(3, HandLimits(highest=6), (4,), only=frozenset({"ground"})),
        PatternQuery(3, HandLimits(highest=6), (4,), containing=frozenset({5})),
        PatternQuery(3, HandLimits("sync", 6), (4,)),
        PatternQuery(3, HandLimits(highest=6, capacity=2), (4,)),
        PatternQuery(15, HandLimits(highest=30), (20,)),
    ],
    ids=repr,
)
def test_only_a_search_can_tell(asked: PatternQuery) -> None:
    assert count(asked) is None


@pytest.mark.parametrize(
    ("hands", "objects", "period"),
    [
        (HandLimits(highest=8), 4, 10),
        (HandLimits(highest=6), 3, 12),
        (HandLimits(highest=9), 8, 14),
        (HandLimits("sync", 8), 4, 8),
        (HandLimits(highest=6, capacity=2), 4, 4),
    ],
    ids=repr,
)
def test_the_magnitude_is_about_right(hands: HandLimits, objects: int, period: int) -> None:
    asked = PatternQuery(objects, hands, (period,))
    found = sum(1 for _ in find(asked))
    assert abs(magnitude(asked) - np.log10(found)) < 1.5
