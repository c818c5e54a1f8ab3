"""Shows the log: tables of sessions, patterns and takes, and a chart of the days.

The chart has the best clean tempo of each day, and the time spent throwing.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import cycle
from pathlib import Path
from typing import TYPE_CHECKING, Final, Generic, TypeVar

from rich.console import RenderableType
from rich.table import Table

from throwcount.caller.log.history import History, LogChoice
from throwcount.caller.log.records import (
    DayRecord,
    PatternRecord,
    SessionRecord,
    TakeRecord,
    Totals,
    local_day,
    local_minute,
)
from throwcount.caller.pictures.sheet import GREY, Sheet, line_style, picture
from throwcount.caller.terminal.printing import counted, length_text, shortened, table

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

AnyRecord = TypeVar("AnyRecord", SessionRecord, PatternRecord, TakeRecord)

NARROW_TEXT: Final = 24
"""Characters of a pattern in a table, at most."""

ROOMY: Final = 78
"""Columns of a terminal that has room for everything."""

NOT_ENDED: Final = "+"
STEADY: Final = "sd: of the asynchronies of the catches; sure: how likely all this is right."
MEANING: Final = "Of clean sets: fastest tempo, most beats in a set, most sets in a row."

FOLDED: Final = ("pattern", "props", "take")
"""Columns that may take several lines, and are no narrower than their headings."""


@dataclass(frozen=True, slots=True)
class LogColumn(Generic[AnyRecord]):
    """One column of a table."""

    heading: str
    """The heading of the column."""
    text: Callable[[AnyRecord], str]
    """Returns what the column says of a record."""
    number: bool = True
    """Whether it holds numbers, which are right-aligned."""
    always: bool = False
    """Whether narrow terminals have it too."""


@dataclass(frozen=True, slots=True)
class LogView:
    """How much of the log is shown."""

    rows: int
    """Lines of each table, at most."""
    lately: int
    """Days after which a pattern has not been practised lately."""
    now: datetime
    """The present moment."""
    width: int
    """Columns of the terminal; a narrow terminal gets what matters most."""

    @property
    def lately_began(self) -> datetime:
        """The moment since which a pattern has been practised lately."""
        return self.now - timedelta(days=self.lately)


def log_page(history: History, choice: LogChoice, view: LogView) -> Iterator[RenderableType]:
    """Yield the parts of the page, for a log that has at least one set."""
    totals = history.totals(choice)
    yield _summary(totals)
    yield ""
    yield from _sessions(history, choice, view, totals)
    yield ""
    yield listing(PATTERN_COLUMNS, history.patterns(choice, view.rows), view.width)
    if view.width >= ROOMY:
        yield MEANING
    if totals.patterns > view.rows:
        yield f"The {view.rows} practised last; --rows shows more."
    longest_ago = list(history.patterns_not_since(view.lately_began, choice, view.rows))
    if longest_ago:
        yield ""
        yield f"Not practised for {counted(view.lately, 'day')}:"
        yield listing(WAITING_COLUMNS, longest_ago, view.width)


def takes_page(takes: Sequence[TakeRecord], view: LogView) -> Iterator[RenderableType]:
    """Yield the parts of the page of takes; `takes` is not empty, and has the latest first.

    Where there are more takes than the view has rows, `takes` has one more than that.
    """
    yield listing(TAKE_COLUMNS, takes[: view.rows], view.width)
    if view.width >= ROOMY:
        yield STEADY
    if len(takes) > view.rows:
        yield f"The last {view.rows}; --rows shows more."


def nothing_kept(choice: LogChoice, path: Path) -> str:
    """Return the sentence for a log without any set of that choice."""
    if choice == LogChoice():
        return f"Nothing has been practised yet. The practice log will be {path}."
    asked = f"of {_short_text(choice.pattern)}" if choice.pattern else "of any pattern"
    if choice.props is not None:
        asked += f" with {choice.props}"
    if choice.since is not None:
        asked += f" since {local_day(choice.since)}"
    return f"The practice log has no set {asked}."


def _summary(totals: Totals) -> str:
    since = f", the first on {local_day(totals.first)}" if totals.first else ""
    return (
        f"{counted(totals.sessions, 'session')}, {counted(totals.sets, 'set')} of "
        f"{counted(totals.patterns, 'pattern')}, {length_text(totals.seconds)} of throwing{since}."
    )


def _sessions(
    history: History, choice: LogChoice, view: LogView, totals: Totals
) -> Iterator[RenderableType]:
    sessions = list(history.sessions(choice, view.rows))
    yield listing(SESSION_COLUMNS, sessions, view.width)
    if not all(session.whole for session in sessions):
        yield f"{NOT_ENDED} goes on, or was interrupted."
    if totals.sessions > view.rows:
        yield f"The last {view.rows}; --rows shows more."


def listing(
    columns: tuple[LogColumn[AnyRecord], ...], records: Iterable[AnyRecord], width: int
) -> Table:
    """Return a table of records that fits a width; long patterns and props are folded."""
    chosen = [column for column in columns if column.always or width >= ROOMY]
    numbers = [column.heading for column in chosen if column.number]
    shown = table(*(column.heading for column in chosen), numbers=numbers)
    shown.padding = (0, 2, 0, 0)
    for each in shown.columns:
        each.overflow = "fold"
        each.no_wrap = each.header not in FOLDED
        each.min_width = len(str(each.header)) if each.header in FOLDED else None
    for record in records:
        shown.add_row(*(column.text(record) for column in chosen))
    return shown


def _length(session: SessionRecord) -> str:
    length = length_text((session.ended - session.started).total_seconds())
    return length if session.whole else length + NOT_ENDED


def _with_props(pattern: PatternRecord) -> str:
    return f"{pattern.objects} {pattern.props}".rstrip()


def _tempo(tempo: float | None) -> str:
    return "-" if tempo is None else f"{tempo:.0f}"


def _short_text(text: str) -> str:
    return shortened(text, NARROW_TEXT)


def _milliseconds(seconds: float | None) -> str:
    return "-" if seconds is None else f"{1000 * seconds:.0f} ms"


SESSION_COLUMNS: Final[tuple[LogColumn[SessionRecord], ...]] = (
    LogColumn("session", lambda kept: local_minute(kept.started), number=False, always=True),
    LogColumn("length", _length),
    LogColumn("throwing", lambda kept: length_text(kept.seconds), always=True),
    LogColumn("sets", lambda kept: str(kept.sets), always=True),
    LogColumn("clean", lambda kept: str(kept.clean)),
    LogColumn("drops", lambda kept: str(kept.drops)),
    LogColumn("patterns", lambda kept: str(kept.patterns)),
    LogColumn("props", lambda kept: kept.props, number=False),
)
PATTERN_COLUMNS: Final[tuple[LogColumn[PatternRecord], ...]] = (
    LogColumn("pattern", lambda kept: _short_text(kept.pattern), number=False, always=True),
    LogColumn("props", _with_props, number=False, always=True),
    LogColumn("clean sets", lambda kept: f"{kept.clean} of {kept.sets}", always=True),
    LogColumn("best\ntempo", lambda kept: _tempo(kept.best_tempo), always=True),
    LogColumn("longest\nrun", lambda kept: str(kept.longest_run)),
    LogColumn("most\nin a row", lambda kept: str(kept.longest_row)),
    LogColumn("throwing", lambda kept: length_text(kept.seconds)),
    LogColumn("last", lambda kept: local_day(kept.last), number=False),
)
WAITING_COLUMNS: Final[tuple[LogColumn[PatternRecord], ...]] = (
    LogColumn("pattern", lambda kept: _short_text(kept.pattern), number=False, always=True),
    LogColumn("props", _with_props, number=False, always=True),
    LogColumn("last", lambda kept: local_day(kept.last), number=False, always=True),
    LogColumn("last clean tempo", lambda kept: _tempo(kept.last_tempo)),
)
TAKE_COLUMNS: Final[tuple[LogColumn[TakeRecord], ...]] = (
    LogColumn("take", lambda kept: _short_text(kept.summary.file), number=False, always=True),
    LogColumn("listened to", lambda kept: local_day(kept.kept), number=False),
    LogColumn("pattern", lambda kept: _short_text(kept.summary.pattern or "-"), number=False),
    LogColumn("tempo", lambda kept: _tempo(kept.summary.tempo), always=True),
    LogColumn("sd", lambda kept: _milliseconds(kept.summary.asynchrony_sd), always=True),
    LogColumn("drops", lambda kept: str(kept.summary.drops), always=True),
    LogColumn("sure", lambda kept: f"{kept.summary.confidence:.0%}"),
)


MOST_PATTERNS: Final = 6
"""Lines in the chart; more could not be told apart at a glance."""

WIDTH: Final = 9.0
HEIGHT: Final = 6.0
MARKERS: Final = "osD^vP"
LONGEST_LABEL: Final = 18


@dataclass(slots=True)
class Days:
    """What was practised, day by day."""

    minutes: dict[date, float] = field(default_factory=dict)
    """Minutes of throwing."""
    tempos: dict[str, dict[date, float]] = field(default_factory=dict)
    """For each pattern the best clean tempo of each day that has one."""
    seconds: dict[str, float] = field(default_factory=dict)
    """Seconds of throwing each pattern."""

    def add(self, kept: DayRecord) -> None:
        """Add one pattern on one day."""
        day = kept.day
        self.minutes[day] = self.minutes.get(day, 0) + kept.seconds / 60
        if kept.best_tempo is not None:
            self.seconds[kept.pattern] = self.seconds.get(kept.pattern, 0) + kept.seconds
            self.tempos.setdefault(kept.pattern, {})[day] = kept.best_tempo

    @property
    def drawn(self) -> list[str]:
        """The patterns with most time among those with a clean set, in that order."""
        return sorted(self.seconds, key=lambda name: (-self.seconds[name], name))[:MOST_PATTERNS]


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
            label=shortened(pattern, LONGEST_LABEL),
        )
    if kept.drawn:
        axes.legend(loc="upper left", bbox_to_anchor=(1, 1))
    else:
        axes.text(0.5, 0.5, "no clean set yet", ha="center", transform=axes.transAxes)


def _draw_minutes(axes: "Axes", kept: Days) -> None:
    axes.set_ylabel("minutes of throwing")
    axes.bar(_days(kept.minutes), list(kept.minutes.values()), color=GREY)


def _days(days: Iterable[date]) -> "NDArray[np.datetime64]":
    """Return days as an array that matplotlib draws as dates."""
    import numpy as np

    return np.array(list(days), dtype="datetime64[D]")


def _described(kept: Days, text: str) -> str:
    best = (
        f"{shortened(name, LONGEST_LABEL)} up to {max(kept.tempos[name].values()):.0f}"
        for name in kept.drawn
    )
    tempos = ", ".join(best) or "none yet"
    return (
        f"{text}: {sum(kept.minutes.values()):.0f} minutes of throwing. "
        f"Best clean tempos, in beats a minute: {tempos}."
    )
