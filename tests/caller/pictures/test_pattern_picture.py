"""Where arcs and letters go."""

import math
from itertools import combinations

import pytest

from throwcount.caller.pictures.ladder import paths
from throwcount.caller.pictures.pattern_picture import Arc, arcs, letter_places
from throwcount.engine.patterns.rules import read

CLOSE = 0.6
"""Beats: letters nearer than that would touch."""

RIGHT, LEFT = 0.0, -1.0
"""The heights of the hands' lines, in beats."""

RISE = 0.5
"""How far an arc rises for each beat of its throw."""

HELD_RISE = 0.35
HIGHEST_ARC = 12.0
BETWEEN = 0.45
"""Between the arcs of two objects that fly together."""


def arcs_of(text: str, beats: int) -> list[Arc]:
    pattern = read(text)
    return arcs(paths(pattern, beats), beats, pattern.highest)


def test_an_arc_leads_from_throw_to_throw() -> None:
    drawn = [(arc.name, arc.index, arc.start, arc.end, arc.rise) for arc in arcs_of("531", 3)]
    assert drawn == [
        ("A", 0, (0, RIGHT), (5, LEFT), 5 * RISE),
        ("B", 1, (1, LEFT), (4, RIGHT), 3 * RISE),
        ("C", 2, (2, RIGHT), (3, LEFT), 1 * RISE),
    ]


@pytest.mark.parametrize(
    ("text", "rises"),
    [
        ("2", [HELD_RISE, HELD_RISE]),
        ("(2x,2x)", [2 * RISE, 2 * RISE]),
        ("[33]", [3 * RISE, 3 * RISE + BETWEEN] * 2),
        ("z", [HIGHEST_ARC, HIGHEST_ARC]),
        ("0", []),
    ],
)
def test_how_far_arcs_rise(text: str, rises: list[float]) -> None:
    assert sorted(arc.rise for arc in arcs_of(text, 2)) == pytest.approx(sorted(rises))


def test_an_arc_is_a_parabola_over_the_line_between_its_ends() -> None:
    arc = Arc("A", 0, (2.0, 0.0), (6.0, -1.0), 3.0)
    assert [arc.at(share) for share in (0, 0.25, 0.5, 1)] == [
        (2, 0),
        (3, -0.25 + 0.75 * 3),
        (4, -0.5 + 3),
        (6, -1),
    ]
    assert arc.points()[0] == arc.start
    assert arc.points()[-1] == arc.end


@pytest.mark.parametrize("text", ["3", "531", "97531", "(4,2x)*", "[33]33", "([44x],2)*", "b97531"])
def test_letters_stand_on_their_arcs_and_apart(text: str) -> None:
    beats = range(12)
    drawn = arcs_of(text, beats.stop)
    placed = list(letter_places(drawn, beats))
    assert {arc.name for arc, _ in placed} == {arc.name for arc in drawn}
    for arc, (along, up) in placed:
        share = (along - arc.start[0]) / (arc.end[0] - arc.start[0])
        assert arc.at(share) == pytest.approx((along, up))
        assert 0 <= along <= 11
    for (_, one), (_, other) in combinations(placed, 2):
        assert math.dist(one, other) > CLOSE
