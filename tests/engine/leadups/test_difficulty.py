"""The points of a pattern: their parts, the order that jugglers expect, and two strict rules.

Which of two patterns is harder is common practice among jugglers; no published scale was found.
"""

import math

import pytest

from engine.leadups.difficulty import difficulty
from engine.leadups.drills import one_object_less
from engine.patterns.jugglable import read

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
