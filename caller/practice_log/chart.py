"""The log as a picture: the best clean tempo of each day, and the time spent throwing."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from itertools import cycle
from pathlib import Path
from typing import TYPE_CHECKING, Final

from caller.console.line_styles import GREY, line_style
from caller.console.picture_file import Sheet, picture
from caller.practice_log.records import DayKept

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_PATTERNS: Final = 6
"""So many lines can be told apart at a glance."""

WIDTH: Final = 9.0
HEIGHT: Final = 6.0
MARKERS: Final = "osD^vP"
LONGEST_NAME: Final = 18


@dataclass(slots=True)
class Days:
    """What was practised, day by day."""

    minutes: dict[date, float] = field(default_factory=dict)
    """Minutes of throwing."""
    tempos: dict[str, dict[date, float]] = field(default_factory=dict)
    """For each pattern the best clean tempo of each day that has one."""
    seconds: dict[str, float] = field(default_factory=dict)
    """Seconds of throwing each pattern."""

    def add(self, kept: DayKept) -> None:
        """Add one pattern on one day."""
        day = date.fromisoformat(kept.day)
        self.minutes[day] = self.minutes.get(day, 0) + kept.seconds / 60
        if kept.best_tempo is not None:
            self.seconds[kept.pattern] = self.seconds.get(kept.pattern, 0) + kept.seconds
            self.tempos.setdefault(kept.pattern, {})[day] = kept.best_tempo

    @property
    def drawn(self) -> list[str]:
        """The patterns with most time among those with a clean set, in that order."""
        return sorted(self.seconds, key=lambda name: (-self.seconds[name], name))[:MOST_PATTERNS]


def draw_days(days: Iterable[DayKept], path: Path, *, overwrite: bool = False) -> None:
    """Draw what was practised in a file.

    There is at least one day. `path` ends in ``.svg`` or ``.png``. `overwrite` says whether a file
    that is there already is replaced.

    Raises
    ------
    OutsideError
        If matplotlib is not installed.
    FileError
        If the file cannot be written, or is there already.
    """
    from caller.console.terminal import counted

    kept = Days()
    for day in days:
        kept.add(day)
    told = f"Practice on {counted(len(kept.minutes), 'day')}"
    sheet = Sheet(WIDTH, HEIGHT, told, _described(kept, told))
    with picture(path, sheet, overwrite=overwrite) as figure:
        figure.set_layout_engine("constrained")
        upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(3, 1))
        _draw_tempos(upper, kept)
        _draw_minutes(lower, kept)
        figure.autofmt_xdate()


def _draw_tempos(axes: "Axes", kept: Days) -> None:
    axes.set_title("Best clean tempo of each day")
    axes.set_ylabel("beats a minute")
    axes.grid(color="0.9")
    for index, (pattern, marker) in enumerate(zip(kept.drawn, cycle(MARKERS), strict=False)):
        style, points = line_style(index), kept.tempos[pattern]
        axes.plot(
            _days(points),
            list(points.values()),
            color=style.colour,
            linestyle=style.strokes,
            marker=marker,
            label=_short_name(pattern),
        )
    if kept.drawn:
        axes.legend(loc="upper left", bbox_to_anchor=(1, 1))
    else:
        axes.text(0.5, 0.5, "no clean set yet", ha="center", transform=axes.transAxes)


def _draw_minutes(axes: "Axes", kept: Days) -> None:
    axes.set_ylabel("minutes of throwing")
    axes.bar(_days(kept.minutes), list(kept.minutes.values()), color=GREY)


def _days(days: Iterable[date]) -> "NDArray[np.datetime64]":
    """Return days in the form that axes know as such."""
    import numpy as np

    return np.array(list(days), dtype="datetime64[D]")


def _described(kept: Days, told: str) -> str:
    best = (
        f"{_short_name(name)} up to {max(kept.tempos[name].values()):.0f}" for name in kept.drawn
    )
    tempos = ", ".join(best) or "none yet"
    return (
        f"{told}: {sum(kept.minutes.values()):.0f} minutes of throwing. "
        f"Best clean tempos, in beats a minute: {tempos}."
    )


def _short_name(text: str) -> str:
    return text if len(text) <= LONGEST_NAME else f"{text[:LONGEST_NAME]}..."
