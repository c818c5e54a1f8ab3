"""What the log tells a person: sessions, patterns, and what has not been practised lately."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final, Generic, TypeVar

from rich.console import RenderableType
from rich.table import Table

from caller.console.terminal import counted, length_told, table
from caller.practice_log.history import Choice, History
from caller.practice_log.moments import local_day, local_minute
from caller.practice_log.records import PatternKept, SessionKept, TakeKept, Totals

Kept = TypeVar("Kept", SessionKept, PatternKept, TakeKept)

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
class Column(Generic[Kept]):
    """One column of a table.

    Parameters
    ----------
    heading
        Over it; a number stands to the right.
    told
        What it says of a record.
    number
        Whether it is one.
    always
        Whether it is there on narrow terminals too.
    """

    heading: str
    told: Callable[[Kept], str]
    number: bool = True
    always: bool = False


@dataclass(frozen=True, slots=True)
class View:
    """How much is told.

    Parameters
    ----------
    rows
        Lines of each table, at most.
    lately
        Days after which a pattern has not been practised lately.
    now
        The present moment.
    width
        Columns of the terminal; a narrow one gets what matters most.
    """

    rows: int
    lately: int
    now: datetime
    width: int

    @property
    def lately_began(self) -> datetime:
        """What was practised before has not been practised lately."""
        return self.now - timedelta(days=self.lately)


def log_page(history: History, choice: Choice, view: View) -> Iterator[RenderableType]:
    """Yield the parts of the page; of a log in which there is a set.

    Parameters
    ----------
    history
        What was practised.
    choice
        Which sets of it.
    view
        How much is told.
    """
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


def takes_page(takes: Sequence[TakeKept], view: View) -> Iterator[RenderableType]:
    """Yield what is told of takes, one more of which are there than are shown if there are more.

    Parameters
    ----------
    takes
        The latest first; at least one.
    view
        How much is told.
    """
    yield listing(TAKE_COLUMNS, takes[: view.rows], view.width)
    if view.width >= ROOMY:
        yield STEADY
    if len(takes) > view.rows:
        yield f"The last {view.rows}; --rows shows more."


def nothing_told(choice: Choice, path: Path) -> str:
    """Return what is said where there is nothing to tell.

    Parameters
    ----------
    choice
        What was asked for.
    path
        Of the log.
    """
    if choice == Choice():
        return f"Nothing has been practised yet. The practice log will be {path}."
    asked = f"of {_short(choice.pattern)}" if choice.pattern else "of any pattern"
    if choice.props is not None:
        asked += f" with {choice.props}"
    if choice.since is not None:
        asked += f" since {local_day(choice.since)}"
    return f"The practice log has no set {asked}."


def _summary(totals: Totals) -> str:
    since = f", the first on {local_day(totals.first)}" if totals.first else ""
    return (
        f"{counted(totals.sessions, 'session')}, {counted(totals.sets, 'set')} of "
        f"{counted(totals.patterns, 'pattern')}, {length_told(totals.seconds)} of throwing{since}."
    )


def _sessions(
    history: History, choice: Choice, view: View, totals: Totals
) -> Iterator[RenderableType]:
    sessions = list(history.sessions(choice, view.rows))
    yield listing(SESSION_COLUMNS, sessions, view.width)
    if not all(session.whole for session in sessions):
        yield f"{NOT_ENDED} goes on, or was interrupted."
    if totals.sessions > view.rows:
        yield f"The last {view.rows}; --rows shows more."


def listing(columns: tuple[Column[Kept], ...], records: Iterable[Kept], width: int) -> Table:
    """Return a table of records that fits a width; patterns and props are folded for that."""
    chosen = [column for column in columns if column.always or width >= ROOMY]
    numbers = [column.heading for column in chosen if column.number]
    told = table(*(column.heading for column in chosen), numbers=numbers)
    told.padding = (0, 2, 0, 0)
    for each in told.columns:
        each.overflow = "fold"
        each.no_wrap = each.header not in FOLDED
        each.min_width = len(str(each.header)) if each.header in FOLDED else None
    for record in records:
        told.add_row(*(column.told(record) for column in chosen))
    return told


def _length(session: SessionKept) -> str:
    length = length_told((session.ended - session.started).total_seconds())
    return length if session.whole else length + NOT_ENDED


def _with_props(pattern: PatternKept) -> str:
    return f"{pattern.objects} {pattern.props}".rstrip()


def _tempo(tempo: float | None) -> str:
    return "-" if tempo is None else f"{tempo:.0f}"


def _short(text: str) -> str:
    return text if len(text) <= NARROW_TEXT else f"{text[:NARROW_TEXT]}..."


def _milliseconds(seconds: float | None) -> str:
    return "-" if seconds is None else f"{1000 * seconds:.0f} ms"


SESSION_COLUMNS: Final[tuple[Column[SessionKept], ...]] = (
    Column("session", lambda kept: local_minute(kept.started), number=False, always=True),
    Column("length", _length),
    Column("throwing", lambda kept: length_told(kept.seconds), always=True),
    Column("sets", lambda kept: str(kept.sets), always=True),
    Column("clean", lambda kept: str(kept.clean)),
    Column("drops", lambda kept: str(kept.drops)),
    Column("patterns", lambda kept: str(kept.patterns)),
    Column("props", lambda kept: kept.props, number=False),
)
PATTERN_COLUMNS: Final[tuple[Column[PatternKept], ...]] = (
    Column("pattern", lambda kept: _short(kept.pattern), number=False, always=True),
    Column("props", _with_props, number=False, always=True),
    Column("clean sets", lambda kept: f"{kept.clean} of {kept.sets}", always=True),
    Column("best\ntempo", lambda kept: _tempo(kept.best_tempo), always=True),
    Column("longest\nrun", lambda kept: str(kept.longest_run)),
    Column("most\nin a row", lambda kept: str(kept.longest_row)),
    Column("throwing", lambda kept: length_told(kept.seconds)),
    Column("last", lambda kept: local_day(kept.last), number=False),
)
WAITING_COLUMNS: Final[tuple[Column[PatternKept], ...]] = (
    Column("pattern", lambda kept: _short(kept.pattern), number=False, always=True),
    Column("props", _with_props, number=False, always=True),
    Column("last", lambda kept: local_day(kept.last), number=False, always=True),
    Column("last clean tempo", lambda kept: _tempo(kept.last_tempo)),
)
TAKE_COLUMNS: Final[tuple[Column[TakeKept], ...]] = (
    Column("take", lambda kept: _short(kept.told.file), number=False, always=True),
    Column("listened to", lambda kept: local_day(kept.kept), number=False),
    Column("pattern", lambda kept: _short(kept.told.pattern or "-"), number=False),
    Column("tempo", lambda kept: _tempo(kept.told.tempo), always=True),
    Column("sd", lambda kept: _milliseconds(kept.told.asynchrony_sd), always=True),
    Column("drops", lambda kept: str(kept.told.drops), always=True),
    Column("sure", lambda kept: f"{kept.told.sureness:.0%}"),
)
