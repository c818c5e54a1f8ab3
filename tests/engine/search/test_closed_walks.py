"""Closed walks through the states: prime ones against the cycles that networkx finds.

All of them, under every combination of conditions, against patterns read from every text.
"""

from collections import Counter
from collections.abc import Collection
from contextlib import suppress
from functools import cache
from itertools import combinations, combinations_with_replacement, islice, product

import networkx as nx
import pytest

from throwcount.engine.errors import PatternError
from throwcount.engine.patterns.pattern import VALUE_DIGITS, Pattern
from throwcount.engine.patterns.rows import HandLimits, RowQuery, canonical, chosen_rotation
from throwcount.engine.patterns.rules import read
from throwcount.engine.patterns.states import (
    is_ground,
    is_prime,
    states,
    true_period,
    visits_ground,
)
from throwcount.engine.search import closed_walks as module
from throwcount.engine.search import find as find_module
from throwcount.engine.search.closed_walks import closed_walks
from throwcount.engine.search.find import FILTERS, Filter, PatternQuery, find, fits
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
    blocks = closed_walks(query, prime=True, from_ground=from_ground)
    return [block[at : at + period] for block in blocks for at in range(0, len(block), period)]


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
    monkeypatch.setattr(module, "MOST_WALKS", most)
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
    block = next(closed_walks(query, prime=True))
    for start in islice(range(0, len(block), period), 5):
        pattern = read("".join(VALUE_DIGITS[value] for value in block[start : start + period]))
        assert (pattern.objects, pattern.period, pattern.highest) == (objects, period, highest)
        assert is_prime(pattern)


def written_hands(highest: int, capacity: int, *, sync: bool) -> list[str]:
    """Everything that one hand may do, in notation."""
    values = [f"{value}" for value in range(1, highest + 1)]
    if sync:
        values = [f"{value}{x}" for value in range(2, highest + 1, 2) for x in ("", "x")]
    several = [
        f"[{''.join(reversed(thrown))}]"
        for size in range(2, capacity + 1)
        for thrown in combinations_with_replacement(values, size)
    ]
    return ["0", *values, *several]


@cache
def every_class(
    objects: int, highest: int, period: int, capacity: int, *, sync: bool
) -> list[frozenset[str]]:
    """All rotations of each pattern whose true period this is, by reading every text."""
    hands = written_hands(highest, capacity, sync=sync)
    turns = [f"({left},{right})" for left in hands for right in hands] if sync else hands
    classes = {}
    for written in product(turns, repeat=period // (2 if sync else 1)):
        every = ["".join(written[k:] + written[:k]) for k in range(len(written))]
        if min(every) in classes or len(set(every)) < len(written):
            continue
        with suppress(PatternError):
            if read(every[0]).objects == objects:
                classes[min(every)] = frozenset(every)
    return list(classes.values())


def is_wanted(pattern: Pattern, only: Collection[Filter]) -> bool:
    """Whether a pattern passes the filters, each by its definition."""
    every = list(states(pattern))
    acts = []
    for turn in range(2 * len(pattern.turns)):
        throws = pattern.turns[turn % len(pattern.turns)]
        hands = {pattern.hand(turn, place): sorted(map(str, thrown))
                 for place, thrown in enumerate(throws)}  # fmt: skip
        acts.append((hands.get("right"), hands.get("left")))
    mirrored = [act[::-1] for act in acts]
    symmetric = any(acts[k:] + acts[:k] == mirrored for k in range(len(acts)))
    passed = {
        "prime": len(set(every)) == len(every),
        "ground": any(map(is_ground, every)),
        "symmetric": symmetric,
        "one-sided": not symmetric,
    }
    return all(passed[name] for name in only)


SMALL = [
    (3, 6, 4, 1, False),
    (2, 5, 5, 1, False),
    (3, 6, 4, 1, True),
    (4, 6, 4, 1, True),
    (2, 4, 4, 1, True),
    (4, 4, 3, 2, False),
    (5, 3, 3, 3, False),
    (4, 4, 2, 2, True),
    (3, 2, 4, 2, True),
    (5, 6, 2, 2, True),
]
ALL_FILTERS = [
    *[set(names) for size in range(3) for names in combinations(FILTERS, size)],
    {"prime", "ground", "symmetric"},
    {"prime", "ground", "one-sided"},
]


@pytest.mark.parametrize(("objects", "highest", "period", "capacity", "sync"), SMALL)
@pytest.mark.parametrize("only", ALL_FILTERS, ids=lambda names: "+".join(sorted(names)))
@pytest.mark.parametrize("by_state", [True, False])
def test_all_conditions_against_reading_every_text(  # noqa: PLR0913, PLR0917 - one argument a condition
    monkeypatch: pytest.MonkeyPatch,
    objects: int,
    highest: int,
    period: int,
    capacity: int,
    sync: bool,
    only: set[Filter],
    by_state: bool,
) -> None:
    """Whether the walks find them, or the necklaces, which serve where states are too many."""
    monkeypatch.setattr(find_module, "_goes_by_state", lambda *_: by_state)
    classes = every_class(objects, highest, period, capacity, sync=sync)
    assert classes
    known = [(rotations, read(min(rotations))) for rotations in classes]
    fitting = [(rotations, one) for rotations, one in known if is_wanted(one, only)]
    for containing, without in [((), ()), ((2,), ()), ((0,), ()), ((), (0,)), ((0, 4), (2,))]:
        hands = HandLimits("sync" if sync else "async", highest, capacity, frozenset(without))
        query = PatternQuery(
            objects, hands, (period,), only=frozenset(only), containing=frozenset(containing)
        )
        expected = []
        for rotations, pattern in fitting:
            places = [throws for turn in pattern.turns for throws in turn]
            values = {throw.value for throws in places for throw in throws}
            values |= {0 for throws in places if not throws}
            if values >= set(containing) and not values & set(without):
                expected.append(rotations)
        found = [frozenset([Pattern.of(one.kind, one.turns[k:] + one.turns[:k]).text
                            for k in range(len(one.turns))]) for one in find(query)]  # fmt: skip
        written = [frozenset(Pattern.of(one.kind, one.turns).text for one in map(read, rotations))
                   for rotations in expected]  # fmt: skip
        assert Counter(found) == Counter(written)


@pytest.mark.parametrize(
    ("pattern", "symmetric", "period"),
    [
        ("([2x2],[22x])", True, 2),
        ("([2x2],[2x2])", True, 2),
        ("([42x],2x)(2x,[2x4])", True, 4),
        ("(2,4x)([2x4],4)(2,4x)([42x],4)", False, 4),
        ("4[53]04[35]0", True, 3),
        ("[43]1[34]1", False, 2),
    ],
)
def test_the_order_in_a_bracket_means_nothing(pattern: str, symmetric: bool, period: int) -> None:
    known = read(pattern)
    assert true_period(known) == period
    assert fits(known, {"symmetric"}) == symmetric
    assert fits(known, {"one-sided"}) != symmetric
    once = Pattern.of(known.kind, known.turns[: period // known.beats_per_turn])
    assert canonical(once) == canonical(known)


LARGE = [
    PatternQuery(5, HandLimits(highest=9), (14,), containing=frozenset({9})),
    PatternQuery(7, HandLimits(highest=15), (16,), only=frozenset({"prime"})),
    PatternQuery(3, HandLimits(highest=12), (20,), only=frozenset({"ground"}),
                 containing=frozenset({9, 10, 11, 12})),
    PatternQuery(2, HandLimits(highest=35), (60,)),
    PatternQuery(6, HandLimits("sync", 8, without=frozenset({0})), (20,),
                 only=frozenset({"prime", "symmetric"})),
    PatternQuery(8, HandLimits("sync", 12), (16,), only=frozenset({"ground", "symmetric"}),
                 containing=frozenset({2, 10, 12})),
    PatternQuery(6, HandLimits("sync", 8, 2), (12,), only=frozenset({"prime", "one-sided"})),
    PatternQuery(8, HandLimits(highest=9, capacity=4), (12,), containing=frozenset({9, 0})),
]  # fmt: skip


@pytest.mark.parametrize("query", LARGE, ids=range(len(LARGE)))
def test_large_classes_begin_at_once(query: PatternQuery) -> None:
    """Conditions that come after the search would keep a juggler waiting for ever."""
    found = list(islice(find(query), 20))
    assert len({pattern.text for pattern in found}) == 20
    for pattern in found:
        assert read(pattern.text) == pattern
        assert is_wanted(pattern, query.only)
        assert {str(value) for value in query.containing if value < 10} <= set(pattern.text)
