"""Reads the practice log: what was practised, added up in ever other ways.

Everything comes one by one from the file, in an order that an index gives where it can, so that a
log of a lifetime takes no more memory than one of a week.

What is asked of the practice log.

In each query stands the place where the chosen sets, or takes, are picked out. They are picked by
conditions on columns with an index, so that only what is asked for is looked at.
"""

import json
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby
from pathlib import Path
from sqlite3 import Row
from types import TracebackType
from typing import Any, Final, Self

from throwcount.caller.log.database import Database, damaged, open_database_to_read
from throwcount.caller.log.records import (
    DayKept,
    MarkGiven,
    PatternKept,
    SessionKept,
    SetKept,
    TakeKept,
    TakeTold,
    Totals,
    milliseconds,
    moment,
    tidied,
)

EARLIEST: Final = -(2**62)
"""Before every moment that the log can have."""

CHOSEN: Final = "{chosen}"


@dataclass(frozen=True, slots=True)
class LogQuery:
    """A query with `CHOSEN` where the conditions on what it is about belong."""

    text: str
    """The query in SQL."""
    about: str = "sets"
    """The table from which is chosen."""
    moment: str = "started"
    """Its column that says when."""

    def __call__(self, *, pattern: bool, props: bool) -> str:
        """Return the query for those of a pattern, of a kind of props, of both, or all of them."""
        conditions = [f"{self.about}.{self.moment} >= :since"]
        conditions += [f"{self.about}.pattern = :pattern"] * pattern
        conditions += [f"{self.about}.props = :props"] * props
        return self.text.replace(CHOSEN, " AND ".join(conditions))


TOTALS: Final = LogQuery(
    """
    SELECT
        count(DISTINCT session_id) AS sessions, count(DISTINCT pattern) AS patterns,
        count(*) AS sets,
        count(*) FILTER (WHERE outcome = 'clean') AS clean,
        count(*) FILTER (WHERE outcome = 'drop') AS drops,
        total(seconds) AS seconds, min(started) AS first, max(started) AS last
    FROM sets WHERE {chosen}
    """
)

SESSIONS: Final = LogQuery(
    """
    SELECT
        sessions.id AS number, sessions.started AS started,
        coalesce(sessions.ended, max(sets.seen)) AS ended, sessions.ended IS NOT NULL AS whole,
        sessions.props AS props, sessions.device AS device,
        count(DISTINCT sets.pattern) AS patterns, count(*) AS sets,
        count(*) FILTER (WHERE outcome = 'clean') AS clean,
        count(*) FILTER (WHERE outcome = 'drop') AS drops,
        total(sets.seconds) AS seconds
    FROM sessions JOIN sets ON sets.session_id = sessions.id
    WHERE {chosen}
    GROUP BY sessions.id ORDER BY sessions.id DESC LIMIT :most
    """
)

PATTERN_BY_PATTERN: Final = """
    WITH summed AS (
        SELECT
            pattern, props, max(objects) AS objects, count(*) AS sets,
            count(*) FILTER (WHERE outcome = 'clean') AS clean,
            count(*) FILTER (WHERE outcome = 'drop') AS drops,
            total(seconds) AS seconds,
            max(tempo_fastest) FILTER (WHERE outcome = 'clean') AS best_tempo,
            max(id) FILTER (WHERE outcome = 'clean') AS last_clean,
            coalesce(max(beats_thrown) FILTER (WHERE outcome = 'clean'), 0) AS longest_run,
            max(started) AS last
        FROM sets WHERE {chosen} GROUP BY pattern, props
    )
    SELECT
        summed.pattern AS pattern, summed.objects AS objects, summed.props AS props,
        sets, clean, drops, summed.seconds AS seconds,
        best_tempo, held.tempo_end AS last_tempo, longest_run, last
    FROM summed LEFT JOIN sets AS held ON held.id = last_clean
"""

PATTERNS: Final = LogQuery(f"{PATTERN_BY_PATTERN} ORDER BY last DESC LIMIT :most")

PATTERNS_BY_AGE: Final = LogQuery(
    f"{PATTERN_BY_PATTERN} WHERE last < :before ORDER BY last LIMIT :most"
)

OUTCOMES: Final = LogQuery(
    "SELECT outcome FROM sets WHERE outcome IS NOT NULL AND {chosen} ORDER BY id"
)

SETS: Final = LogQuery(
    """
    SELECT
        id AS number, session_id AS session, started, ended,
        CASE WHEN status = 'open' AND seen < :silent THEN 'interrupted' ELSE status END AS status,
        outcome, pattern, written, objects, cycle_beats, props, first_hand AS first,
        tempo_start, tempo_end, tempo_fastest, beats_planned, beats_thrown, seconds
    FROM sets WHERE {chosen} ORDER BY id
    """
)

MARKS: Final = LogQuery(
    """
    SELECT set_id, mark, moment, beat, given_by
    FROM sets CROSS JOIN marks ON marks.set_id = sets.id
    WHERE {chosen} ORDER BY sets.id, marks.id
    """
)

DAYS: Final = LogQuery(
    """
    SELECT
        date(started / 1000, 'unixepoch', 'localtime') AS day, pattern,
        total(seconds) AS seconds,
        max(tempo_fastest) FILTER (WHERE outcome = 'clean') AS best_tempo
    FROM sets WHERE {chosen} GROUP BY day, pattern ORDER BY day, pattern
    """
)

TAKES: Final = LogQuery(
    """
    SELECT
        id AS number, kept, file, title, pattern, props, seconds, heard, expected,
        tempo_asked, tempo, asynchrony_sd, interval_sd, right_later, drops,
        sureness AS confidence, report
    FROM takes WHERE {chosen} ORDER BY id DESC LIMIT :most
    """,
    about="takes",
    moment="kept",
)


SILENCE: Final = 60.0
"""Seconds without a sign after which a set that was not ended is taken to be interrupted."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Which sets and takes are looked at."""

    pattern: str | None = None
    """The pattern in its canonical form; None for every one."""
    props: str | None = None
    """What was juggled; None for anything."""
    since: datetime | None = None
    """When they began, or were kept, at the earliest; None for all time."""

    @property
    def values(self) -> dict[str, Any]:
        """What stands for it in a query."""
        return {
            "pattern": self.pattern,
            "props": None if self.props is None else tidied(self.props),
            "since": EARLIEST if self.since is None else milliseconds(self.since.timestamp()),
        }


EVERYTHING: Final = Choice()


class History:
    """A practice log that is being read.

    Every method raises a `LogError` if the file cannot be read.

    The database is open. `clock` gives the seconds since 1970.
    """

    def __init__(self, database: Database, clock: Callable[[], float] = time.time) -> None:
        self._database = database
        self._clock = clock

    @classmethod
    def open(cls, path: Path, clock: Callable[[], float] = time.time) -> Self:
        """Open the log at `path`; without a file, there is no history yet.

        Raises
        ------
        LogError
            If it cannot be used.
        """
        return cls(open_database_to_read(path), clock)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self._database.close()

    def unchanging(self) -> AbstractContextManager[None]:
        """Show the log as it is now for as long as this lasts, whatever others write meanwhile."""
        return self._database.unchanging()

    def totals(self, choice: Choice = EVERYTHING) -> Totals:
        """Return everything added up."""
        (row,) = self._rows(TOTALS, choice)
        return Totals(**self._fields(row, "first", "last"))

    def sessions(
        self, choice: Choice = EVERYTHING, most: int | None = None
    ) -> Iterator[SessionKept]:
        """Yield the sessions in which a set was begun, the latest first, `most` of them at most."""
        for row in self._rows(SESSIONS, choice, most):
            fields = self._fields(row, "started", "ended")
            yield SessionKept(**fields | {"whole": bool(row["whole"])})

    def patterns(
        self, choice: Choice = EVERYTHING, most: int | None = None
    ) -> Iterator[PatternKept]:
        """Yield the patterns with their props, the one practised last first."""
        return self._patterns(PATTERNS, choice, most)

    def patterns_not_since(
        self, day: datetime, choice: Choice = EVERYTHING, most: int | None = None
    ) -> Iterator[PatternKept]:
        """Yield the patterns that were last practised before `day`, the longest ago first."""
        before = milliseconds(day.timestamp())
        return self._patterns(PATTERNS_BY_AGE, choice, most, before=before)

    def sets(self, choice: Choice = EVERYTHING) -> Iterator[SetKept]:
        """Yield the sets with their marks, in the order begun."""
        marks = _MarksInTurn(self._rows(MARKS, choice), self._mark)
        silent = milliseconds(self._clock() - SILENCE)
        for row in self._rows(SETS, choice, silent=silent):
            yield SetKept(**self._fields(row, "started", "ended"), marks=marks.of(row["number"]))

    def days(self, choice: Choice = EVERYTHING) -> Iterator[DayKept]:
        """Yield what was practised day by day, on each day pattern by pattern."""
        for row in self._rows(DAYS, choice):
            yield DayKept(**self._fields(row))

    def takes(self, choice: Choice = EVERYTHING, most: int | None = None) -> Iterator[TakeKept]:
        """Yield the takes that were kept, the latest first, `most` of them at most."""
        for row in self._rows(TAKES, choice, most):
            fields = self._fields(row, "kept")
            number, kept = fields.pop("number"), fields.pop("kept")
            report = self._report(fields.pop("report"))
            yield TakeKept(number=number, kept=kept, told=TakeTold(**fields, report=report))

    def _report(self, text: object) -> dict[str, Any]:
        """Return what a take told, which the log has as JSON."""
        try:
            report = json.loads(text) if isinstance(text, str) else None
        except ValueError as error:
            raise damaged(self._database.path) from error
        if not isinstance(report, dict):
            raise damaged(self._database.path)
        return report

    def _patterns(
        self, query: LogQuery, choice: Choice, most: int | None, **values: object
    ) -> Iterator[PatternKept]:
        for row in self._rows(query, choice, most, **values):
            one = replace(choice, pattern=row["pattern"], props=row["props"])
            yield PatternKept(**self._fields(row, "last"), longest_row=self._longest_row(one))

    def _longest_row(self, choice: Choice) -> int:
        """Return how many sets of one pattern that count were clean in a row, at most."""
        rows = groupby(outcome for (outcome,) in self._rows(OUTCOMES, choice))
        return max((sum(1 for _ in row) for outcome, row in rows if outcome == "clean"), default=0)

    def _mark(self, row: Row) -> MarkGiven:
        fields = self._fields(row, "moment")
        del fields["set_id"]
        return MarkGiven(**fields)

    def _fields(self, row: Row, *times: str) -> dict[str, Any]:
        """Return a row by the names of its columns, which are the names of a record's fields."""
        fields = dict(row)
        try:
            return fields | {name: moment(fields[name]) for name in times}
        except (TypeError, ValueError, OverflowError, OSError) as error:
            raise damaged(self._database.path) from error

    def _rows(
        self, query: LogQuery, choice: Choice, most: int | None = None, **values: object
    ) -> Iterator[Row]:
        limit = -1 if most is None else most
        text = query(pattern=choice.pattern is not None, props=choice.props is not None)
        return self._database.rows(text, {**choice.values, "most": limit, **values})


class _MarksInTurn:
    """Deals out marks, which come in the order of their sets, to sets that come in that order."""

    def __init__(self, rows: Iterator[Row], told: Callable[[Row], MarkGiven]) -> None:
        self._told = told
        self._groups = groupby(rows, key=lambda row: int(row["set_id"]))
        self._next = next(self._groups, None)

    def of(self, number: int) -> tuple[MarkGiven, ...]:
        if self._next is None or self._next[0] != number:
            return ()
        given = tuple(self._told(row) for row in self._next[1])
        self._next = next(self._groups, None)
        return given
