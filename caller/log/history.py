"""Reads the practice log: queries, and their rows as records.

Rows are read one by one, in the order of an index where possible, so that the log of a lifetime
takes no more memory than that of a week. Each query has a place for the conditions that choose its
sets, or takes. They are on columns with an index, so that nothing else is looked at.
"""

import json
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from sqlite3 import Row
from typing import Any, Final, Self

from throwcount.caller.log.database import Database, damaged, open_database_to_read
from throwcount.caller.log.records import (
    DayRecord,
    MarkGiven,
    PatternRecord,
    SessionRecord,
    SetRecord,
    TakeRecord,
    TakeTold,
    Totals,
    milliseconds,
    moment,
    tidied,
)

EARLIEST: Final = -(2**62)
"""Before every moment that the log can have."""

CHOSEN: Final = "{chosen}"
"""The place for the conditions in a query."""


@dataclass(frozen=True, slots=True)
class LogQuery:
    """A query with `CHOSEN` in it."""

    text: str
    """The query in SQL."""
    about: str = "sets"
    """The table that the conditions are about."""
    moment: str = "started"
    """The column of that table that says when."""

    def __call__(self, *, pattern: bool, props: bool) -> str:
        """Return the query with conditions on the moment and, if asked, on pattern and props."""
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
        sets.id AS number, session_id AS session, started, ended,
        CASE WHEN status = 'open' AND seen < :silent THEN 'interrupted' ELSE status END AS status,
        outcome, pattern, written, objects, cycle_beats, props, first_hand AS first,
        tempo_start, tempo_end, tempo_fastest, beats_planned, beats_thrown, seconds,
        mark, moment, beat, given_by
    FROM sets LEFT JOIN marks ON marks.set_id = sets.id
    WHERE {chosen} ORDER BY sets.id, marks.id
    """
)
"""A set has a row for each of its marks, or one without a mark."""

OF_A_MARK: Final = ("mark", "moment", "beat", "given_by")
"""Those columns that are about the mark, in the order of the fields of `MarkGiven`."""

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
"""Seconds after which a set of which nothing more was kept is taken to be interrupted."""


@dataclass(frozen=True, slots=True)
class LogChoice:
    """Which sets and takes are asked for."""

    pattern: str | None = None
    """The pattern in its canonical form; None for all."""
    props: str | None = None
    """What was juggled; None for anything."""
    since: datetime | None = None
    """The earliest moment at which they began, or were kept; None for any."""

    @property
    def values(self) -> dict[str, Any]:
        """The values for the conditions of a query."""
        return {
            "pattern": self.pattern,
            "props": None if self.props is None else tidied(self.props),
            "since": EARLIEST if self.since is None else milliseconds(self.since.timestamp()),
        }


EVERYTHING: Final = LogChoice()


class History:
    """A practice log that is being read; every method raises `LogError` if it cannot be read.

    The database is open. `clock` returns seconds since 1970.
    """

    def __init__(self, database: Database, clock: Callable[[], float] = time.time) -> None:
        self._database = database
        self._clock = clock

    @classmethod
    def open(cls, path: Path, clock: Callable[[], float] = time.time) -> Self:
        """Open the log at `path`; without a file, the history is empty."""
        return cls(open_database_to_read(path), clock)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self._database.close()

    def unchanging(self) -> AbstractContextManager[None]:
        """Show the log as it is now while the context lasts, whatever others write meanwhile."""
        return self._database.unchanging()

    def totals(self, choice: LogChoice = EVERYTHING) -> Totals:
        """Return the sums over all sets."""
        (row,) = self._rows(TOTALS, choice)
        return Totals(**self._fields(row, "first", "last"))

    def sessions(
        self, choice: LogChoice = EVERYTHING, most: int | None = None
    ) -> Iterator[SessionRecord]:
        """Yield the sessions with a set in them, the latest first, at most `most` of them."""
        for row in self._rows(SESSIONS, choice, most):
            fields = self._fields(row, "started", "ended")
            yield SessionRecord(**fields | {"whole": bool(row["whole"])})

    def patterns(
        self, choice: LogChoice = EVERYTHING, most: int | None = None
    ) -> Iterator[PatternRecord]:
        """Yield the patterns with their props, the last practised first, at most `most` of them."""
        return self._patterns(PATTERNS, choice, most)

    def patterns_not_since(
        self, day: datetime, choice: LogChoice = EVERYTHING, most: int | None = None
    ) -> Iterator[PatternRecord]:
        """Yield the patterns not practised since `day`, the longest ago first."""
        before = milliseconds(day.timestamp())
        return self._patterns(PATTERNS_BY_AGE, choice, most, before=before)

    def sets(self, choice: LogChoice = EVERYTHING) -> Iterator[SetRecord]:
        """Yield the sets with their marks, in the order begun."""
        silent = milliseconds(self._clock() - SILENCE)
        rows = self._rows(SETS, choice, silent=silent)
        for _, of_set in groupby(rows, itemgetter("number")):
            found = [self._fields(row, "started", "ended", "moment") for row in of_set]
            marks = [[fields.pop(name) for name in OF_A_MARK] for fields in found]
            yield SetRecord(**found[0], marks=tuple(MarkGiven(*each) for each in marks if each[0]))

    def days(self, choice: LogChoice = EVERYTHING) -> Iterator[DayRecord]:
        """Yield the patterns of each day, day by day."""
        for row in self._rows(DAYS, choice):
            yield DayRecord(**self._fields(row))

    def takes(
        self, choice: LogChoice = EVERYTHING, most: int | None = None
    ) -> Iterator[TakeRecord]:
        """Yield the takes that were kept, the latest first, at most `most` of them."""
        for row in self._rows(TAKES, choice, most):
            fields = self._fields(row, "kept")
            number, kept = fields.pop("number"), fields.pop("kept")
            try:
                report = json.loads(fields.pop("report"))
            except (TypeError, ValueError) as error:
                raise damaged(self._database.path) from error
            if not isinstance(report, dict):
                raise damaged(self._database.path)
            yield TakeRecord(number=number, kept=kept, told=TakeTold(**fields, report=report))

    def _patterns(
        self, query: LogQuery, choice: LogChoice, most: int | None, **values: object
    ) -> Iterator[PatternRecord]:
        for row in self._rows(query, choice, most, **values):
            one = replace(choice, pattern=row["pattern"], props=row["props"])
            yield PatternRecord(**self._fields(row, "last"), longest_row=self._longest_row(one))

    def _longest_row(self, choice: LogChoice) -> int:
        """Return the most clean sets in a row of one pattern, among the sets that count."""
        rows = groupby(outcome for (outcome,) in self._rows(OUTCOMES, choice))
        return max((sum(1 for _ in row) for outcome, row in rows if outcome == "clean"), default=0)

    def _fields(self, row: Row, *times: str) -> dict[str, Any]:
        """Return a row as the fields of a record, with datetimes for those named in `times`."""
        fields = dict(row)
        try:
            return fields | {name: moment(fields[name]) for name in times}
        except (TypeError, ValueError, OverflowError, OSError) as error:
            raise damaged(self._database.path) from error

    def _rows(
        self, query: LogQuery, choice: LogChoice, most: int | None = None, **values: object
    ) -> Iterator[Row]:
        limit = -1 if most is None else most
        text = query(pattern=choice.pattern is not None, props=choice.props is not None)
        return self._database.rows(text, {**choice.values, "most": limit, **values})
