"""The chart of the log: a day is a day wide, gaps stay gaps, and goals have their lines."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from throwcount.caller.log import chart
from throwcount.caller.log.records import DayRecord
from throwcount.caller.pictures.sheet import Sheet

Figure = Any
"""A figure of matplotlib, which may not be here."""

FIRST = date(2026, 3, 2)
"""A Monday."""


def day(number: int, run: int | None = 10, pattern: str = "744", seconds: float = 60) -> DayRecord:
    """Return a day of `FIRST` and later."""
    return DayRecord(FIRST + timedelta(days=number), pattern, "", 5, seconds, 200.0, run)


@pytest.fixture
def figures(
    monkeypatch: pytest.MonkeyPatch, require: Callable[[object, str], None]
) -> list[Figure]:
    """What is drawn, instead of a file."""
    require(find_spec("matplotlib"), "no matplotlib")
    drawn: list[Figure] = []

    @contextmanager
    def kept(_path: Path, _sheet: Sheet, *, overwrite: bool) -> Iterator[Figure]:
        assert not overwrite
        drawn.append(import_module("matplotlib.figure").Figure())
        yield drawn[-1]
        drawn[-1].canvas.draw()

    monkeypatch.setattr(chart, "picture", kept)
    return drawn


def bars(figure: Figure) -> list[tuple[float, float, float]]:
    """Return the middle of each bar in days since the first one, its width and its height."""
    patches = figure.axes[2].patches
    middles = [bar.get_x() + bar.get_width() / 2 for bar in patches]
    return [
        (middle - middles[0], bar.get_width(), bar.get_height())
        for middle, bar in zip(middles, patches, strict=True)
    ]


@pytest.mark.parametrize("days", [[0], [0, 1], [0, 3, 9], [0, 100], [0, 400]])
def test_a_day_is_a_day_wide_and_gaps_stay(figures: list[Figure], days: list[int]) -> None:
    chart.draw_days(map(day, days), Path("log.svg"))
    (figure,) = figures
    assert bars(figure) == [(number, pytest.approx(0.8), 1.0) for number in days]
    left, right = figure.axes[2].get_xlim()
    assert right - left >= max(7.0, days[-1] + 1)


def test_a_single_day_takes_a_seventh_of_the_axis(figures: list[Figure]) -> None:
    chart.draw_days([day(0)], Path("log.svg"))
    left, right = figures[0].axes[2].get_xlim()
    assert right - left == pytest.approx(7)
    labels = [label.get_text() for label in figures[0].axes[2].get_xticklabels()]
    assert "2026-03-02" in labels
    assert len(labels) == len(set(labels)) <= 8


@pytest.mark.parametrize(
    ("span", "points", "title"),
    [(60, 60, "each day"), (350, 50, "each week"), (3650, 131, "every four weeks")],
)
def test_long_practices_are_drawn_in_longer_steps(
    figures: list[Figure], span: int, points: int, title: str
) -> None:
    chart.draw_days((day(number, 10 + number) for number in range(span)), Path("log.svg"))
    axes = figures[0].axes[0]
    assert axes.get_title() == f"Best run of {title}"
    heights = np.asarray(axes.lines[0].get_ydata(), float)
    assert abs(len(heights) - points) <= 1
    assert heights[-1] == 9 + span
    assert sum(height for _, _, height in bars(figures[0])) == pytest.approx(span)


def test_a_line_breaks_where_nothing_was_practised(figures: list[Figure]) -> None:
    chart.draw_days([day(0), day(7), day(15)], Path("log.svg"))
    heights = np.asarray(figures[0].axes[0].lines[0].get_ydata(), float)
    assert [bool(np.isnan(height)) for height in heights] == [False, False, True, False]


@pytest.mark.parametrize(
    ("runs", "scale"), [([4, 12, 39], "linear"), ([4, 12, 400], "log"), ([60], "log")]
)
def test_goals_have_lines_on_an_axis_that_fits(
    figures: list[Figure], runs: list[int], scale: str
) -> None:
    """Five objects: a flash is 5 catches, a qualifying run 10 (common practice)."""
    chart.draw_days((day(number, run) for number, run in enumerate(runs)), Path("log.svg"))
    axes = figures[0].axes[0]
    assert [np.unique(line.get_ydata()).tolist() for line in axes.lines[1:]] == [[5], [10]]
    assert [text.get_text() for text in axes.texts] == ["flash", "qualify"]
    assert axes.get_yscale() == scale
    lowest, highest = axes.get_ylim()
    assert lowest <= min(runs)
    assert highest >= max(runs)


def test_what_is_not_known_is_said(figures: list[Figure]) -> None:
    unknown = DayRecord(FIRST, "744", "clubs", 5, 30.0, None, None)
    chart.draw_days([unknown], Path("log.svg"))
    runs, tempos, _ = figures[0].axes
    assert [text.get_text() for text in runs.texts] == ["no catches known yet"]
    assert [text.get_text() for text in tempos.texts] == ["no clean set yet"]
