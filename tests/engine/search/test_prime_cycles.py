"""Prime patterns as cycles of the graph of states, against the cycles that networkx finds."""

from collections import Counter
from itertools import islice

import networkx as nx
import pytest

from throwcount.engine.patterns.pattern import VALUE_DIGITS
from throwcount.engine.patterns.rows import HandLimits, RowQuery, chosen_rotation
from throwcount.engine.patterns.rules import read
from throwcount.engine.patterns.states import is_prime, visits_ground
from throwcount.engine.search import prime_cycles as module
from throwcount.engine.search.prime_cycles import prime_cycles
from throwcount.engine.search.state_graph import all_states, transitions


def rows(  # noqa: PLR0913 - one argument a condition
    objects: int,
    highest: int,
    period: int,
    *,
    without: tuple[int, ...] = (),
    containing: tuple[int, ...] = (),
    from_ground: bool = False,
) -> list[bytes]:
    hands = HandLimits(highest=highest, without=frozenset(without))
    query = RowQuery(hands, objects, period, frozenset(containing))
    blocks = prime_cycles(query, from_ground=from_ground)
    return [row.tobytes() for block in blocks for row in block]


def largest_rotation(values: list[int]) -> bytes:
    return max(bytes(values[k:] + values[:k]) for k in range(len(values)))


def cycles(objects: int, highest: int, longest: int) -> dict[int, Counter[bytes]]:
    """For each period the largest rotations of the cycles that networkx finds."""
    graph = nx.DiGraph()
    for before in all_states(objects, highest):
        for value, following in transitions(before, highest):
            graph.add_edge(before, following, value=value)
    found: dict[int, Counter[bytes]] = {}
    for cycle in nx.simple_cycles(graph, length_bound=longest):
        steps = zip(cycle, [*cycle[1:], cycle[0]], strict=True)
        values = [graph.edges[step]["value"] for step in steps]
        found.setdefault(len(cycle), Counter())[largest_rotation(values)] += 1
    return found


GRAPHS = [
    *[(1, 4, 4), (2, 4, 6), (2, 6, 15), (4, 6, 10), (3, 6, 20), (4, 7, 9), (5, 7, 8), (4, 8, 8)],
    *[(1, 1, 2), (4, 4, 3), (1, 35, 36), (2, 9, 9), (34, 35, 35), (3, 10, 6), (2, 17, 4)],
]


@pytest.mark.parametrize(("objects", "highest", "longest"), GRAPHS)
def test_all_cycles(objects: int, highest: int, longest: int) -> None:
    expected = cycles(objects, highest, longest)
    for period in range(1, longest + 1):
        found = rows(objects, highest, period)
        assert all(row == chosen_rotation(HandLimits(), objects, row) for row in found)
        assert Counter(largest_rotation(list(row)) for row in found) == expected.get(period, {})


@pytest.mark.parametrize(
    ("without", "containing", "from_ground"),
    [
        ((2, 5), (), False),
        ((0,), (), False),
        ((), (0,), False),
        ((), (6, 0), True),
        ((), (7,), False),
        ((3,), (7, 6), False),
        ((), (1, 2, 5), True),
        ((), (), True),
        ((0, 1, 2, 3), (4,), False),
        ((), (8,), False),
        ((7,), (7,), False),
        (tuple(range(8)), (), False),
    ],
)
def test_conditions_keep_just_what_they_say(
    without: tuple[int, ...], containing: tuple[int, ...], from_ground: bool
) -> None:
    for period in range(1, 10):
        expected = [
            row
            for row in rows(4, 7, period)
            if not set(without) & set(row) and set(containing) <= set(row)
            if not from_ground or visits_ground(read("".join(VALUE_DIGITS[v] for v in row)))
        ]
        found = rows(4, 7, period, without=without, containing=containing, from_ground=from_ground)
        assert found == expected


def test_the_order() -> None:
    """By root, nearest to the ground state first, and from each root lower throws first."""
    whole, from_ground = rows(3, 7, 8), rows(3, 7, 8, from_ground=True)
    assert from_ground == whole[: len(from_ground)] == sorted(from_ground)


@pytest.mark.parametrize("most", [1, 7, 100])
def test_small_blocks(monkeypatch: pytest.MonkeyPatch, most: int) -> None:
    whole = rows(3, 7, 8)
    monkeypatch.setattr(module, "MOST_PATHS", most)
    dealt_out = rows(3, 7, 8)
    assert dealt_out == rows(3, 7, 8)
    assert sorted(dealt_out) == sorted(whole)


@pytest.mark.parametrize(
    ("objects", "highest", "period"),
    [(17, 35, 60), (7, 15, 16), (34, 35, 30), (12, 33, 200), (5, 9, 14)],
)
def test_the_longest_searches_find_something_at_once(
    objects: int, highest: int, period: int
) -> None:
    query = RowQuery(HandLimits(highest=highest), objects, period, frozenset({highest}))
    block = next(prime_cycles(query))
    for row in islice(block, 5):
        pattern = read("".join(VALUE_DIGITS[value] for value in row))
        assert (pattern.objects, pattern.period, pattern.highest) == (objects, period, highest)
        assert is_prime(pattern)
