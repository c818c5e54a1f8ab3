"""How the figures of a take are told.

A take stretch by stretch: when the catches were late.
"""

import math

import pytest
from scipy.stats import norm, t
from told_takes import told_take

from throwcount.caller.reports.figures import (
    beyond_chance,
    confidence_text,
    gathered,
    moment_text,
    ms,
    percent,
    take_windows,
    with_error,
    without_controls,
)
from throwcount.engine.takes.catches import Catch
from throwcount.engine.takes.steadiness import KeptTempo


@pytest.mark.parametrize(
    ("seconds", "told"),
    [(0, "0:00.0"), (5.04, "0:05.0"), (59.96, "1:00.0"), (62.5, "1:02.5"), (3725.3, "1:02:05.3")],
)
def test_moments(seconds: float, told: str) -> None:
    assert moment_text(seconds) == told


@pytest.mark.parametrize(
    ("seconds", "told"),
    [(0.0, "0.0 ms"), (0.00123, "1.2 ms"), (0.00996, "10 ms"), (0.0126, "13 ms"), (0.2, "200 ms")],
)
def test_times_are_told_no_finer_than_they_are_known(seconds: float, told: str) -> None:
    assert ms(seconds) == told


@pytest.mark.parametrize("among", [1, 3, 12])
def test_chance_counts_how_many_were_looked_through(among: int) -> None:
    """No one of so many is told in 95 % of the cases (Sidak 1967), by scipy's normal law."""
    for value in (1.5, 1.9, 2.1, 2.35, 2.5, 2.8, 3.0):
        by_chance = 1 - (1 - 2 * norm.sf(value)) ** among
        assert beyond_chance(value, 1.0, among) == (by_chance < 0.05)
        assert beyond_chance(-2 * value, 2.0, among) == (by_chance < 0.05)


@pytest.mark.parametrize("freedom", [7, 11, 29, 199])
@pytest.mark.parametrize("among", [1, 9])
def test_few_catches_prove_less(freedom: int, among: int) -> None:
    """Student's t by scipy, to three parts in a hundred."""
    limit = float(t.isf((1 - 0.95 ** (1 / among)) / 2, freedom))
    assert beyond_chance(1.03 * limit, 1.0, among, freedom)
    assert not beyond_chance(0.97 * limit, 1.0, among, freedom)


@pytest.mark.parametrize(
    ("confidence", "told"),
    [
        (1.0, "almost surely right (over 99%)"),
        (0.95, "almost surely right (95%)"),
        (0.86, "very likely right (86%)"),
        (0.7, "likely right (70%)"),
        (0.5, "perhaps right (50%)"),
        (0.1, "hardly right (10%)"),
    ],
)
def test_confidence_is_told_in_words_and_as_a_number(confidence: float, told: str) -> None:
    assert confidence_text(confidence) == told


def test_nothing_is_certain() -> None:
    assert percent(1.0) == percent(0.999) == "over 99%"


def test_errors_stand_beside_figures() -> None:
    assert with_error(180.04, 0.26) == "180.0 ± 0.3"


def test_names_from_outside_neither_move_nor_colour_the_terminal() -> None:
    assert without_controls("a\x1b[31m\nb\u202e\x00c") == "a [31m b  c"


WANDER = 0.040
PERIOD = 40.0


def swaying(catch: Catch) -> float:
    return WANDER * math.sin(2 * math.pi * catch.time / PERIOD)


def test_lateness_follows_what_the_juggler_did() -> None:
    """Within three standard errors of the mean of the sway over each stretch, its own mean off."""
    found = take_windows(told_take("3", 240, swaying).report)
    assert len(found) > 10
    grid = [index / 20 for index in range(20 * 90)]
    whole = sorted(WANDER * math.sin(2 * math.pi * time / PERIOD) for time in grid[:1600])
    middle = whole[len(whole) // 2]
    for each in found:
        inside = [time for time in grid if each.start <= time < each.end]
        true = sum(WANDER * math.sin(2 * math.pi * time / PERIOD) for time in inside) / len(inside)
        assert each.late is not None
        assert each.late_uncertainty is not None
        assert abs(each.late - (true - middle)) < 3 * each.late_uncertainty + 0.004


def test_a_cadence_of_ones_own_cannot_be_left() -> None:
    found = take_windows(told_take("3", 120, known=False).report)
    assert found
    assert all(each.late is None and each.asked is None for each in found)


@pytest.mark.parametrize(
    ("count", "most", "rows"), [(0, 12, 0), (5, 12, 5), (12, 12, 12), (25, 12, 9)]
)
def test_neighbours_are_put_together(count: int, most: int, rows: int) -> None:
    paces = [KeptTempo(index, index + 1, 100.0 + index, 1.0, 100.0, 10) for index in range(count)]
    found = gathered(paces, most)
    assert len(found) == rows
    assert sum(each.heard for each in found) == 10 * count
    assert [each.start for each in found[1:]] == [each.end for each in found[:-1]]


def test_what_is_put_together_is_weighed_by_what_was_heard() -> None:
    (both,) = gathered([KeptTempo(0, 5, 100, 1.0, 120, 30), KeptTempo(5, 10, 104, 1.0, 124, 10)], 1)
    assert (both.tempo, both.asked, both.heard) == (101, 121, 40)
    assert both.uncertainty == math.hypot(30, 10) / 40
