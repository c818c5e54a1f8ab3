"""Draws the log: best runs, best clean tempos and minutes of throwing, over the days.

Every day has the same width, whether something was practised on it or not. A long practice is
drawn in steps of a week, or of four, with the best of each.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import cycle, pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from throwcount.caller.log.records import DayRecord
from throwcount.caller.pictures.sheet import GREY, Sheet, line_style, picture
from throwcount.caller.terminal.printing import shortened
from throwcount.engine.numbers import counted
from throwcount.engine.practice.goals import NAMED_GOALS, goal_catches

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

MOST_PATTERNS: Final = 6
"""Lines in the chart; more could not be told apart at a glance."""

WIDTH: Final = 9.0
HEIGHT: Final = 8.0
MARKERS: Final = "osD^vP"
LONGEST_LABEL: Final = 18
SHORTEST_SPAN: Final = 7.0
"""Days that the chart is wide, at least; a single day is one of them."""

STEPS: Final = {1: "each day", 7: "each week", 28: "every four weeks"}
"""Days that are drawn as one."""

MOST_POINTS: Final = 80
MOST_BARS: Final = 550
"""Steps in a line and in a row of bars, at most, as far as `STEPS` allow."""

LONGEST_LINK: Final = 7
"""Days without practice over which a line still goes on, or two steps where these are longer."""

WIDE_RANGE: Final = 10
"""The axis of runs is logarithmic where the longest is so many times the shortest, or a flash."""

TICKS: Final = tuple(digit * 10**power for power in range(9) for digit in (1, 2, 5))

Points = dict[date, float]


@dataclass(slots=True)
class DrawnPattern:
    """A pattern with one kind of props, day by day."""

    objects: int
    """How many objects it has."""
    seconds: float = 0.0
    """Seconds of throwing."""
    runs: Points = field(default_factory=dict)
    """The most catches in a set of each day, where something is known to have been caught."""
    tempos: Points = field(default_factory=dict)
    """The best clean tempo of each day that has one."""


@dataclass(slots=True)
class Days:
    """What was practised, day by day."""

    minutes: Points = field(default_factory=dict)
    """Minutes of throwing."""
    patterns: dict[str, DrawnPattern] = field(default_factory=dict)
    """The patterns by their labels, such as ``531 clubs``."""

    def add(self, kept: DayRecord) -> None:
        """Add one pattern on one day."""
        self.minutes[kept.day] = self.minutes.get(kept.day, 0) + kept.seconds / 60
        label = f"{shortened(kept.pattern, LONGEST_LABEL)} {kept.props}".rstrip()
        one = self.patterns.setdefault(label, DrawnPattern(kept.objects))
        one.seconds += kept.seconds
        if kept.best_run:
            one.runs[kept.day] = max(kept.best_run, one.runs.get(kept.day, 0))
        if kept.best_tempo is not None:
            one.tempos[kept.day] = max(kept.best_tempo, one.tempos.get(kept.day, 0))

    @property
    def drawn(self) -> dict[str, DrawnPattern]:
        """The patterns with most time among those with something to draw, in that order."""
        known = [name for name, one in self.patterns.items() if one.runs or one.tempos]
        known.sort(key=lambda name: (-self.patterns[name].seconds, name))
        return {name: self.patterns[name] for name in known[:MOST_PATTERNS]}

    def step(self, most: int) -> int:
        """Return how many days are drawn as one, so that there are at most `most` of them."""
        span = (max(self.minutes) - min(self.minutes)).days + 1
        return next((step for step in STEPS if span <= step * most), max(STEPS))


def draw_days(days: Iterable[DayRecord], path: Path, *, overwrite: bool = False) -> None:
    """Draw at least one day into a file that ends in ``.svg`` or ``.png``.

    `overwrite` tells whether to replace an existing file.

    Raises
    ------
    OutsideError
        If matplotlib is not installed.
    FileError
        If the file cannot be written, or exists already.
    """
    kept = Days()
    for day in days:
        kept.add(day)
    text = f"Practice on {counted(len(kept.minutes), 'day')}"
    sheet = Sheet(WIDTH, HEIGHT, text, _described(kept, text))
    with picture(path, sheet, overwrite=overwrite) as figure:
        figure.set_layout_engine("constrained")
        runs, tempos, minutes = figure.subplots(3, 1, sharex=True, height_ratios=(3, 2, 1))
        _draw_runs(runs, kept)
        _draw_tempos(tempos, kept)
        _draw_minutes(minutes, kept)
        _draw_calendar(minutes, kept)


def _draw_runs(axes: "Axes", kept: Days) -> None:
    step = kept.step(MOST_POINTS)
    axes.set_title(f"Best run of {STEPS[step]}")
    axes.set_ylabel("catches")
    _draw_lines(axes, kept, step, lambda one: one.runs)
    runs = [run for one in kept.drawn.values() for run in one.runs.values()]
    if kept.drawn:
        lowest = min([*runs, _draw_goals(axes, kept.drawn)])
        axes.legend(loc="upper left", bbox_to_anchor=(1, 1))
    if not runs:
        axes.text(0.5, 0.5, "no catches known yet", ha="center", transform=axes.transAxes)
    elif max(runs) >= WIDE_RANGE * lowest:
        axes.set_yscale("log")
        axes.set_yticks(TICKS, [f"{tick:,}" for tick in TICKS])
        axes.set_yticks([], minor=True)
        axes.set_ylim(lowest / 1.5, max(runs) * 1.5)
    else:
        axes.set_ylim(bottom=0)


def _draw_goals(axes: "Axes", drawn: Mapping[str, DrawnPattern]) -> int:
    """Draw the flash and the qualifying run of the pattern with most time; return the flash."""
    name, first = next(iter(drawn.items()))
    alike = {one.objects for one in drawn.values()} == {first.objects}
    for goal in NAMED_GOALS:
        catches = goal_catches(goal, first.objects)
        axes.axhline(catches, color=GREY, linewidth=0.8, zorder=0)
        text = goal if alike else f"{goal} of {name}"
        axes.annotate(
            text,
            (1, catches),
            xycoords=("axes fraction", "data"),
            xytext=(-3, 2),
            textcoords="offset points",
            ha="right",
            color=GREY,
            fontsize="small",
        )
    return goal_catches("flash", first.objects)


def _draw_tempos(axes: "Axes", kept: Days) -> None:
    step = kept.step(MOST_POINTS)
    axes.set_title(f"Best clean tempo of {STEPS[step]}")
    axes.set_ylabel("beats a minute")
    _draw_lines(axes, kept, step, lambda one: one.tempos)
    if not any(one.tempos for one in kept.drawn.values()):
        axes.text(0.5, 0.5, "no clean set yet", ha="center", transform=axes.transAxes)


def _draw_lines(
    axes: "Axes", kept: Days, step: int, points_of: Callable[[DrawnPattern], Points]
) -> None:
    axes.grid(color="0.9")
    for index, (one, marker) in enumerate(zip(kept.drawn.items(), cycle(MARKERS), strict=False)):
        (label, pattern), style = one, line_style(index)
        points = _linked(_in_steps(points_of(pattern), step, max), step)
        axes.plot(
            _days(points),
            list(points.values()),
            color=style.colour,
            linestyle=style.strokes,
            marker=marker,
            markersize=6 if step == 1 else 4,
            label=label,
        )


def _draw_minutes(axes: "Axes", kept: Days) -> None:
    step = kept.step(MOST_BARS)
    bars = _in_steps(kept.minutes, step, sum)
    axes.set_ylabel(f"minutes\n{STEPS[step]}")
    axes.bar(_days(bars), list(bars.values()), width=step * 0.8, color=GREY)


def _draw_calendar(axes: "Axes", kept: Days) -> None:
    """Give the axis of days its span, and name some of them."""
    from matplotlib import dates

    calendar: Any = dates  # whose functions have no types
    first, last = (calendar.date2num(each(kept.minutes)) for each in (min, max))
    middles = kept.step(MOST_POINTS) // 2  # a week is drawn at its middle
    margin = max(0.6 + middles, (last - first) / 100, (SHORTEST_SPAN - (last - first)) / 2)
    axes.set_xlim(first - margin, last + margin)
    axes.xaxis.set_major_locator(calendar.AutoDateLocator(minticks=3, maxticks=8))
    axes.xaxis.set_major_formatter(calendar.DateFormatter("%Y-%m-%d"))
    axes.tick_params(axis="x", labelsize="small")


def _in_steps(points: Points, step: int, join: Callable[[list[float]], float]) -> Points:
    """Return points with all of one step joined at its middle; weeks begin on Mondays."""
    joined: dict[date, list[float]] = {}
    for day in sorted(points):
        begin = day - timedelta(days=(day.toordinal() - 1) % step)
        joined.setdefault(begin + timedelta(days=step // 2), []).append(points[day])
    return {day: join(values) for day, values in joined.items()}


def _linked(points: Points, step: int) -> Points:
    """Return points with one that is not a number in each long gap, where the line is broken."""
    gaps = {
        one + timedelta(days=1): math.nan
        for one, other in pairwise(points)
        if (other - one).days > max(LONGEST_LINK, 2 * step)
    }
    every = points | gaps
    return {day: every[day] for day in sorted(every)}


def _days(days: Iterable[date]) -> "NDArray[np.datetime64]":
    """Return days as an array that matplotlib draws as dates."""
    import numpy as np

    return np.array(list(days), dtype="datetime64[D]")


def _described(kept: Days, text: str) -> str:
    runs = _best(kept.drawn, lambda one: one.runs)
    tempos = _best(kept.drawn, lambda one: one.tempos)
    minutes = counted(round(sum(kept.minutes.values())), "minute")
    return (
        f"{text}: {minutes} of throwing. Best runs, in catches: {runs}. "
        f"Best clean tempos, in beats a minute: {tempos}."
    )


def _best(drawn: Mapping[str, DrawnPattern], points_of: Callable[[DrawnPattern], Points]) -> str:
    best = {name: max(points_of(one).values(), default=None) for name, one in drawn.items()}
    told = (f"{name} up to {most:.0f}" for name, most in best.items() if most is not None)
    return ", ".join(told) or "none yet"
