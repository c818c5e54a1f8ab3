"""Shows the log as tables: sessions, patterns, runs, routines and takes."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final, Generic, TypeVar

from rich.console import RenderableType
from rich.table import Table

from throwcount.caller.log.history import History, LogChoice
from throwcount.caller.log.records import (
    BestRun,
    ChangeRecord,
    PartRecord,
    PatternRecord,
    RunRecord,
    SessionRecord,
    TakeRecord,
    Totals,
    day_began,
    local_day,
    local_minute,
)
from throwcount.caller.terminal.printing import length_text, shortened, table
from throwcount.engine.numbers import counted

AnyRecord = TypeVar(
    "AnyRecord", SessionRecord, PatternRecord, RunRecord, PartRecord, ChangeRecord, TakeRecord
)

NARROW_TEXT: Final = 24
"""Characters of a pattern in a table, at most."""

ROOMY: Final = 78
"""Columns of a terminal that has room for everything."""

NOT_ENDED: Final = "+"
STEADY: Final = "sd: of the asynchronies of the catches; sure: how likely all this is right."
MEANING: Final = (
    "Best run: most catches in any set, until the drop. Of clean sets: fastest tempo, most in a "
    "row."
)
GOALS: Final = "How often a goal was met: flash is every object caught once, qualify twice."
OF_OWN: Final = "Own goal: of the sets that had one."
CHANGE_IS_OVER: Final = "A change is over with a qualifying run of the part that it leads to."

FOLDED: Final = ("pattern", "props", "take", "part", "from", "to", "met today")
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

    @property
    def today(self) -> datetime:
        """The moment at which the local day began."""
        return day_began(self.now)


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
    yield from _runs(list(history.runs(view.today, choice, view.rows)), view)
    yield from _routines(history, choice, view)
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
        return f"Nothing has been practised yet. The practice log is {path}."
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


def _runs(records: list[RunRecord], view: LogView) -> Iterator[RenderableType]:
    """Yield the best runs and the goals met, and what is new today."""
    known = [kept for kept in records if kept.best is not None and kept.best.catches]
    if known:
        yield ""
        asked = any(one.asked for one in known)
        yield listing(RUN_COLUMNS + (OWN_GOAL,) * asked, known, view.width)
        if view.width >= ROOMY:
            yield f"{GOALS} {OF_OWN}" if asked else GOALS
    not_known = sum(kept.not_known for kept in records)
    if not_known:
        yield f"The catches of {counted(not_known, 'set')} with a drop are not known."
    of_today = [kept for kept in records if kept.attempts_today]
    if of_today:
        yield ""
        yield "Today, against the best before:"
        yield listing(TODAY_COLUMNS, of_today, view.width)


def _routines(history: History, choice: LogChoice, view: LogView) -> Iterator[RenderableType]:
    """Yield the changes and parts of routines that were dropped, the most often dropped first."""
    changes = [kept for kept in history.changes(choice, view.rows) if kept.drops]
    if changes:
        yield ""
        yield "Changes that were dropped:"
        yield listing(CHANGE_COLUMNS, changes, view.width)
        if view.width >= ROOMY:
            yield CHANGE_IS_OVER
    parts = [kept for kept in history.parts(choice, view.rows) if kept.drops]
    if parts:
        yield ""
        yield "Parts that were dropped:"
        yield listing(PART_COLUMNS, parts, view.width)


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
    seconds = (session.ended - session.started).total_seconds()
    length = length_text(seconds) if seconds >= 0 else "-"  # where the clock was set back
    return length if session.whole else length + NOT_ENDED


def _with_props(pattern: PatternRecord | RunRecord) -> str:
    return f"{pattern.objects} {pattern.props}".rstrip()


def _tempo(tempo: float | None) -> str:
    return "-" if tempo is None else f"{tempo:.0f}"


def _catches(catches: int | None) -> str:
    return "-" if catches is None else str(catches)


def _of_best(text: Callable[[BestRun], str]) -> Callable[[RunRecord], str]:
    """Return a function that says something of the best run, if there is one."""
    return lambda kept: "-" if kept.best is None else text(kept.best)


def _met(name: str) -> Callable[[RunRecord], str]:
    """Return a function that says how often the goal of this name was met."""
    return lambda kept: next((str(goal.met) for goal in kept.goals if goal.goal == name), "-")


def _met_today(kept: RunRecord) -> str:
    met = (f"{goal.goal}: {goal.met_today}" for goal in kept.goals if goal.met_today)
    return ", ".join(met) or "-"


def _dropped(kept: PartRecord | ChangeRecord) -> str:
    return f"{kept.drops} of {kept.times}"


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
    LogColumn("best\nrun", lambda kept: _catches(kept.best_run)),
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
OWN_GOAL: Final[LogColumn[RunRecord]] = LogColumn(
    "own goal", lambda kept: f"{kept.reached} of {kept.asked}" if kept.asked else "-"
)
RUN_COLUMNS: Final[tuple[LogColumn[RunRecord], ...]] = (
    LogColumn("pattern", lambda kept: _short_text(kept.pattern), number=False, always=True),
    LogColumn("props", _with_props, number=False, always=True),
    LogColumn("best\nrun", _of_best(lambda best: str(best.catches)), always=True),
    LogColumn("its\ntempo", _of_best(lambda best: _tempo(best.tempo))),
    LogColumn("its day", _of_best(lambda best: local_day(best.when)), number=False),
    LogColumn("flash", _met("flash"), always=True),
    LogColumn("qualify", _met("qualify"), always=True),
    LogColumn("50", _met("50")),
    LogColumn("100", _met("100")),
)
TODAY_COLUMNS: Final[tuple[LogColumn[RunRecord], ...]] = (
    LogColumn("pattern", lambda kept: _short_text(kept.pattern), number=False, always=True),
    LogColumn("props", _with_props, number=False, always=True),
    LogColumn("sets", lambda kept: str(kept.attempts_today)),
    LogColumn("throwing", lambda kept: length_text(kept.seconds_today)),
    LogColumn("best run", lambda kept: _catches(kept.best_today), always=True),
    LogColumn("before", lambda kept: _catches(kept.best_before), always=True),
    LogColumn("met today", _met_today, number=False),
)
CHANGE_COLUMNS: Final[tuple[LogColumn[ChangeRecord], ...]] = (
    LogColumn("from", lambda kept: _short_text(kept.after_part), number=False, always=True),
    LogColumn("to", lambda kept: _short_text(kept.part), number=False, always=True),
    LogColumn("dropped", _dropped, always=True),
    LogColumn("routine", lambda kept: _short_text(Path(kept.file).name), number=False),
)
PART_COLUMNS: Final[tuple[LogColumn[PartRecord], ...]] = (
    LogColumn("part", lambda kept: _short_text(kept.part), number=False, always=True),
    LogColumn("dropped", _dropped, always=True),
    LogColumn("routine", lambda kept: _short_text(Path(kept.file).name), number=False),
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
