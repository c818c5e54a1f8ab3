"""What is worth rehearsing: each share by hand, and the order.

The points of a pattern: their parts, the order that jugglers expect, and two strict rules.

Which of two patterns is harder is common practice among jugglers; no published scale was found.
"""

import math
from collections.abc import Iterable

import pytest

from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.rules import read
from throwcount.engine.search.drills import one_object_less
from throwcount.engine.search.find import PatternQuery, find
from throwcount.engine.search.ranking import Ranking, Worth, difficulty, worth


@pytest.mark.parametrize(
    ("text", "highest", "expected"),
    [
        ("531", 5, Worth(busy=1, whole=1, varied=1, near=1)),
        ("441", 5, Worth(busy=1, whole=1, varied=2 / 3, near=1)),
        ("522", 5, Worth(busy=1 / 3 / 2, whole=1, varied=2 / 3, near=1)),
        ("40", 4, Worth(busy=1 / 2, whole=1, varied=1, near=1 / 2)),
        ("51", 5, Worth(busy=1, whole=1, varied=1, near=2 / 3)),
        ("531441", 5, Worth(busy=1, whole=4 / 6, varied=4 / 5, near=1)),
        ("(4,2x)*", 4, Worth(busy=1, whole=1, varied=2 / 4, near=1)),
        ("[43]1", 4, Worth(busy=1, whole=1, varied=1, near=3 / 4)),
        ("2", 2, Worth(busy=0, whole=1, varied=1, near=1)),
        ("00", 2, Worth(busy=0, whole=1 / 2, varied=0, near=1)),
    ],
)
def test_worth(text: str, highest: int, expected: Worth) -> None:
    found = worth(read(text), highest)
    for share in ("busy", "whole", "varied", "near", "total"):
        assert getattr(found, share) == pytest.approx(getattr(expected, share)), share


def ranked(patterns: Iterable[Pattern], size: int, highest: int) -> list[tuple[Pattern, Worth]]:
    ranking = Ranking(size, highest)
    for pattern in patterns:
        ranking.add(pattern)
    return ranking.ranked()


def test_the_best_of_all_are_kept() -> None:
    every = list(find(PatternQuery(3, HandLimits(highest=7), (2, 3, 4, 5))))
    totals = sorted((worth(pattern, 7).total for pattern in every), reverse=True)
    best = ranked(every, 20, 7)
    assert [one.total for _, one in best] == pytest.approx(totals[:20])
    assert best[0][0].text == "531"
    assert ranked(reversed(every), 20, 7)[0][0].text == "531"


def test_fewer_than_asked() -> None:
    assert ranked([], 2, 7) == []
    assert [pattern.text for pattern, _ in ranked([read("534")], 2, 7)] == ["534"]


def test_lower_throws_first_where_worth_is_equal() -> None:
    best = ranked([read("97531"), read("78451"), read("753")], 3, 9)
    assert [one.total for _, one in best] == pytest.approx([1, 1, 1])
    assert [pattern.text for pattern, _ in best] == ["753", "78451", "97531"]


def test_one_of_two_mirrored_patterns() -> None:
    best = ranked([read("(4x,2x)"), read("(2x,4x)"), read("(4,2)"), read("(2,4)")], 4, 4)
    assert sorted(pattern.text for pattern, _ in best) == ["(4,2)", "(4x,2x)"]


THIRD = 1 / 3
FIVE = 5 - 4 * THIRD
THREE = 3 - 4 * THIRD
"""Beats in the air at the usual dwell ratio of 2/3, by Shannon's theorem: n - 2r."""


@pytest.mark.parametrize(
    ("pattern", "parts"),
    [
        # objects, highest, flight, variety, memory, excitement, multiplex, pairs
        ("0", [0, 0, 0, 0, 0, 0, 0, 0]),
        ("2", [4, 0, 0, 0, 0, 0, 0, 0]),
        ("3", [6, THREE / 2, THREE, 0, 0, 0, 0, 0]),
        ("33", [6, THREE / 2, THREE, 0, 0, 0, 0, 0]),
        ("531", [6, FIVE / 2, math.sqrt((FIVE**2 + THREE**2) / 3), 1, THIRD, 0, 0, 0]),
        ("51", [6, FIVE / 2, math.sqrt(FIVE**2 / 2), 0.5, 0.25, 0.5, 0, 0]),
        ("522", [6, FIVE / 2, math.sqrt(FIVE**2 / 3), 0, THIRD, 0, 0, 0]),
        ("[33]33", [8, THREE / 2, math.sqrt(4 * THREE**2 / 3), 0, THIRD, 0.5, 1, 0]),
        ("(4,4)", [8, 4 * THIRD, 8 * THIRD, 0, 0, 0, 0, 0.25]),
        ("(4,4)(4x,4x)", [8, 4 * THIRD, 8 * THIRD, 0.5, 0.25, 0, 0, 0.25]),
    ],
)
def test_parts(pattern: str, parts: list[float]) -> None:
    found = difficulty(read(pattern))
    names = "objects highest flight variety memory excitement multiplex pairs".split()
    assert [getattr(found, name) for name in names] == pytest.approx(parts)
    assert found.total == pytest.approx(sum(parts))


@pytest.mark.parametrize(
    "rising",
    [
        ["1", "2", "3", "4", "5", "6", "7", "8", "9", "a", "b"],
        ["300", "330", "3"],
        ["3", "423", "441", "531", "4"],
        ["522", "55500", "552", "55550", "5"],
        ["3", "51", "71", "91"],
        ["4", "53", "5"],
        ["5", "744", "97531"],
        ["3", "[33]33"],
        ["4", "(4,4)", "(4,4)(4x,4x)"],
        ["(4,4)", "([44x],2)*"],
    ],
    ids=" ".join,
)
def test_the_order_that_jugglers_expect(rising: list[str]) -> None:
    points = [difficulty(read(pattern)).total for pattern in rising]
    assert points == sorted(points)
    assert len(set(points)) == len(points)


@pytest.mark.parametrize("pattern", ["531", "97531", "51", "7131", "[33]33", "(6x,4)*"])
def test_it_is_the_same_from_every_beat_on(pattern: str) -> None:
    known = read(pattern)
    turns = known.turns
    totals = {
        difficulty(type(known)(known.text, known.kind, turns[first:] + turns[:first])).total
        for first in range(len(turns))
    }
    assert len(totals) == 1


@pytest.mark.parametrize(
    "pattern",
    "3 4 5 53 51 531 441 97531 744 7131 b97531 [33]33 [34]1 [22] (4,4) (6x,4)* ([44x],2)*".split(),
)
def test_one_object_less_is_always_easier(pattern: str) -> None:
    known = read(pattern)
    fewer = list(one_object_less(known, known.highest))
    assert fewer
    assert all(difficulty(one).total < difficulty(known).total for one in fewer)
