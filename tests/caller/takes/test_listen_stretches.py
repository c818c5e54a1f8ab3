"""A take stretch by stretch: when the catches were late."""

import math

import pytest
from told_takes import told_take

from caller.takes.listen_stretches import gathered, take_windows
from engine.catching.expected import Catch
from engine.catching.pace import KeptTempo

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
