"""Reads the practice log: rows of its queries as records.

Rows are read one by one, in the order of an index where possible, so that the log of a lifetime
takes no more memory than that of a week.
"""

import json
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from sqlite3 import Row
from typing import Any, Final, Self, TypeVar

from throwcount.caller.log.database import Database, damaged, open_database_to_read
from throwcount.caller.log.queries import (
    BEGINNING,
    BEST_RUN,
    CHANGES,
    DAYS,
    FIRST_RUN,
    LAST_HELD,
    LAST_HELD_WITH_ANY_PROPS,
    LAST_OF_FILE,
    OF_A_MARK,
    OUTCOMES,
    PARTS,
    PATTERNS,
    PATTERNS_BY_AGE,
    PRACTISED,
    RUN_LENGTHS,
    SAME_SESSION,
    SESSIONS,
    SETS,
    SETS_OF_FILE,
    TAKES,
    TOTALS,
    LogQuery,
)
from throwcount.caller.log.records import (
    BestRun,
    ChangeRecord,
    DayRecord,
    GoalMet,
    LastHeld,
    MarkGiven,
    PartRecord,
    PatternRecord,
    RunRecord,
    SessionRecord,
    SetOfBlock,
    SetRecord,
    TakeRecord,
    TakeSummary,
    Totals,
    impossible,
    milliseconds,
    moment,
    tidied,
)
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.patterns.rows import canonical
from throwcount.engine.practice.goals import goal_catches, usual_goals

Kept = TypeVar("Kept")

EARLIEST: Final = -(2**62)
"""Before every moment that the log can have."""

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
        return self._record(Totals, row, "first", "last")

    def sessions(
        self, choice: LogChoice = EVERYTHING, most: int | None = None
    ) -> Iterator[SessionRecord]:
        """Yield the sessions with a set in them, the latest first, at most `most` of them."""
        for row in self._rows(SESSIONS, choice, most):
            whole = bool(row["whole"])
            yield self._record(SessionRecord, row, "started", "ended", whole=whole)

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

    def runs(
        self, today: datetime, choice: LogChoice = EVERYTHING, most: int | None = None
    ) -> Iterator[RunRecord]:
        """Yield the runs of the patterns with their props, the last practised first.

        There are at most `most`. `today` is the moment at which the day began.
        """
        tomorrow = today + timedelta(days=1)
        day = {
            "today": milliseconds(today.timestamp()),
            "tomorrow": milliseconds(tomorrow.timestamp()),
        }
        for row in self._rows(PRACTISED, choice, most):
            one = replace(choice, pattern=row["pattern"], props=row["props"])
            rows = self._rows(RUN_LENGTHS, one, **day)
            lengths = [self._checked(_RunLength, dict(each)) for each in rows]
            yield self._record(
                RunRecord,
                row,
                "last",
                best=self._first_run(one, lengths),
                **_added_up(lengths, row["objects"]),
            )

    def changes(
        self, choice: LogChoice = EVERYTHING, most: int | None = None
    ) -> Iterator[ChangeRecord]:
        """Yield the changes from part to part of routines, the most often dropped first."""
        for row in self._rows(CHANGES, choice, most):
            yield self._record(ChangeRecord, row)

    def parts(
        self, choice: LogChoice = EVERYTHING, most: int | None = None
    ) -> Iterator[PartRecord]:
        """Yield the parts of routines, the most often dropped first."""
        for row in self._rows(PARTS, choice, most):
            yield self._record(PartRecord, row)

    def sets(self, choice: LogChoice = EVERYTHING) -> Iterator[SetRecord]:
        """Yield the sets with their marks, in the order begun."""
        silent = milliseconds(self._clock() - SILENCE)
        rows = self._rows(SETS, choice, silent=silent)
        for _, of_set in groupby(rows, itemgetter("number")):
            found = [self._fields(row, "started", "ended", "moment") for row in of_set]
            marks = [{name: fields.pop(name) for name in OF_A_MARK} for fields in found]
            given = tuple(self._checked(MarkGiven, each) for each in marks if each["mark"])
            yield self._checked(SetRecord, found[0] | {"marks": given})

    def days(self, choice: LogChoice = EVERYTHING) -> Iterator[DayRecord]:
        """Yield the patterns with their props of each day, day by day."""
        for row in self._rows(DAYS, choice):
            try:
                day = date.fromisoformat(row["day"])
            except (TypeError, ValueError) as error:
                raise damaged(self._database.path) from error
            yield self._record(DayRecord, row, day=day)

    def takes(
        self, choice: LogChoice = EVERYTHING, most: int | None = None
    ) -> Iterator[TakeRecord]:
        """Yield the takes that were kept, the latest first, at most `most` of them."""
        for row in self._rows(TAKES, choice, most):
            fields = self._fields(row, "kept")
            number, kept = fields.pop("number"), fields.pop("kept")
            try:
                fields["report"] = json.loads(fields["report"])
            except (TypeError, ValueError, RecursionError) as error:
                raise damaged(self._database.path) from error
            if not isinstance(fields["report"], dict):
                raise damaged(self._database.path)
            summary = self._checked(TakeSummary, fields)
            yield TakeRecord(number=number, kept=kept, summary=summary)

    def last_held(self, pattern: Pattern, props: str | None = None) -> LastHeld | None:
        """Return the last clean set of a pattern, which may be in any rotation; None without one.

        `props` is None for any.
        """
        query = LAST_HELD_WITH_ANY_PROPS if props is None else LAST_HELD
        values = {"pattern": canonical(pattern).text, "props": tidied(props or "")}
        row = self._database.row(query, values)
        return None if row is None else self._record(LastHeld, row, "when")

    def best_run(self, pattern: Pattern, props: str = "") -> int | None:
        """Return the most catches in any set of a pattern with these props; None without any."""
        values = {"pattern": canonical(pattern).text, "props": tidied(props)}
        found = self._database.row(BEST_RUN, values)
        if found is None or found["catches"] is None:
            return None
        if not isinstance(found["catches"], int):
            raise damaged(self._database.path)
        return int(found["catches"])

    def began(self, session: int) -> int | None:
        """Return when a session began, in milliseconds since 1970; None if there is none."""
        row = self._database.row(BEGINNING, {"session": session})
        return None if row is None else row["started"]

    def has_session(self, file: str, started: int, ended: int) -> bool:
        """Return whether a session that followed `file`, or "", began and ended at these moments.

        They are in milliseconds since 1970.
        """
        values = {"file": file, "started": started, "ended": ended}
        return self._database.row(SAME_SESSION, values) is not None

    def sets_of_file(self, file: str) -> tuple[int | None, list[SetOfBlock]]:
        """Return the last session that followed a session file, and the sets of it, in order.

        Sets of the sessions that it went on from come first. The number is None where no session
        followed the file.
        """
        found = self._database.row(LAST_OF_FILE, {"file": file})
        session = None if found is None else found["id"]
        rows = self._database.rows(SETS_OF_FILE, {"session": session})
        return session, [self._set_of_block(row) for row in rows]

    def _set_of_block(self, row: Row) -> SetOfBlock:
        beats = row["beats_thrown"]
        if not isinstance(beats, int):
            raise damaged(self._database.path)
        fields = {
            "block": row["block"],
            "tempo": row["tempo_end"],
            "outcome": row["outcome"],
            "thrown": beats > 0,
            "whole": row["status"] == "finished" or row["outcome"] is not None,
            "catches": row["catches"],
            "finished": row["status"] == "finished",
        }
        return self._checked(SetOfBlock, fields)

    def _patterns(
        self, query: LogQuery, choice: LogChoice, most: int | None, **values: object
    ) -> Iterator[PatternRecord]:
        for row in self._rows(query, choice, most, **values):
            one = replace(choice, pattern=row["pattern"], props=row["props"])
            yield self._record(PatternRecord, row, "last", longest_row=self._longest_row(one))

    def _longest_row(self, choice: LogChoice) -> int:
        """Return the most clean sets in a row of one pattern, among the sets that count."""
        rows = groupby(outcome for (outcome,) in self._rows(OUTCOMES, choice))
        return max((sum(1 for _ in row) for outcome, row in rows if outcome == "clean"), default=0)

    def _first_run(self, choice: LogChoice, lengths: "list[_RunLength]") -> BestRun | None:
        """Return the first of the longest runs of one pattern; None where no catches are known."""
        most = max((each.catches for each in lengths if each.catches is not None), default=None)
        if most is None:
            return None
        (row,) = self._rows(FIRST_RUN, choice, catches=most)
        return self._record(BestRun, row, "when")

    def _record(self, kind: type[Kept], row: Row, *times: str, **further: object) -> Kept:
        """Return a row as a record, with datetimes for the fields named in `times`."""
        return self._checked(kind, self._fields(row, *times) | further)

    def _checked(self, kind: type[Kept], fields: dict[str, Any]) -> Kept:
        if impossible(kind, fields):
            raise damaged(self._database.path)
        return kind(**fields)

    def _fields(self, row: Row, *times: str) -> dict[str, Any]:
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


@dataclass(frozen=True, slots=True)
class _RunLength:
    """A row of `RUN_LENGTHS`."""

    catches: int | None
    goal: int | None
    sets: int
    seconds: float
    drops: int
    sets_before: int
    sets_today: int
    seconds_today: float


def _added_up(lengths: list[_RunLength], objects: int) -> dict[str, Any]:
    """Return the fields of a `RunRecord` that sum up all runs of a pattern with so many objects."""
    runs = [(each.catches, each) for each in lengths if each.catches is not None]
    names: dict[int, str] = {each.goal: str(each.goal) for each in lengths if each.goal}
    names |= {goal_catches(goal, objects): str(goal) for goal in usual_goals(objects)}
    return {
        "attempts": sum(each.sets for each in lengths),
        "not_known": sum(each.drops for each in lengths if each.catches is None),
        "seconds": sum(each.seconds for each in lengths),
        "best_before": max((run for run, each in runs if each.sets_before), default=None),
        "best_today": max((run for run, each in runs if each.sets_today), default=None),
        "attempts_today": sum(each.sets_today for each in lengths),
        "seconds_today": sum(each.seconds_today for each in lengths),
        "asked": sum(each.sets for each in lengths if each.goal),
        "reached": sum(each.sets for run, each in runs if each.goal and run >= each.goal),
        "goals": tuple(
            GoalMet(
                names[goal],
                goal,
                sum(each.sets for run, each in runs if run >= goal),
                sum(each.sets_today for run, each in runs if run >= goal),
            )
            for goal in sorted(names)
        ),
    }
