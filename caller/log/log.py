"""Writes the practice log: everything at the moment when it is known."""

import json
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Final, Self

from throwcount.caller.log.database import PATIENCE, Database, LogError, open_database
from throwcount.caller.log.history import History
from throwcount.caller.log.queries import CHAIN
from throwcount.caller.log.records import Ending, Plan, TakeSummary, Thrown, milliseconds, tidied
from throwcount.engine.patterns.rows import canonical
from throwcount.engine.practice.tempo_rules import (
    MARKS,
    SOURCES,
    Given,
    Mark,
    Source,
    outcome,
    standing,
)

KEY: Final[Source] = "key"

NEW_SESSION: Final = """
    INSERT INTO sessions (started, props, device, file, resumes)
    VALUES (:now, :props, :device, :file, :resumes)
"""
NEW_SET: Final = """
    INSERT INTO sets (
        session_id, pattern, written, objects, cycle_beats, props, first_hand,
        tempo_start, tempo_end, tempo_fastest, beats_planned, beats_thrown, seconds,
        started, seen, status, goal, block, part, after_part
    )
    SELECT
        id, :pattern, :written, :objects, :cycle_beats, coalesce(:props, props), :first,
        :tempo, :tempo, :tempo, :beats, 0, 0,
        :now, :now, 'open', :goal, :block, :part, :after_part
    FROM sessions WHERE id = :session
"""
THROWN_AGAIN: Final = f"""
    UPDATE sets SET block = NULL WHERE id IN (
        {CHAIN}
        SELECT id FROM sets WHERE session_id IN chain AND block = :block
        ORDER BY id DESC LIMIT :instead_of
    )
"""  # noqa: S608 - nothing of a person's is in the text
NEW_MARK: Final = """
    INSERT INTO marks (set_id, mark, moment, beat, given_by)
    SELECT id, :mark, :now, :beat, :given_by FROM sets WHERE id = :set
"""
MARKS_OF_SET: Final = "SELECT mark, given_by FROM marks WHERE set_id = :set ORDER BY id"
COUNTS: Final = "UPDATE sets SET outcome = :outcome, seen = :now WHERE id = :set"
SO_FAR: Final = """
    UPDATE sets SET
        beats_thrown = :beats, seconds = :seconds, catches = :catches, seen = :now,
        tempo_end = :tempo, tempo_fastest = max(tempo_fastest, :tempo)
    WHERE id = :set
"""
END_OF_SET: Final = """
    UPDATE sets SET
        beats_thrown = :beats, seconds = :seconds, catches = :catches, seen = :now,
        tempo_end = :tempo, tempo_fastest = max(tempo_fastest, :tempo),
        ended = :now, status = :status, outcome = :outcome
    WHERE id = :set
"""
END_OF_SESSION: Final = "UPDATE sessions SET ended = :now WHERE id = :session"
NEW_TAKE: Final = """
    INSERT INTO takes (
        kept, file, title, pattern, props, seconds, heard, expected, tempo_asked, tempo,
        asynchrony_sd, interval_sd, right_later, drops, sureness, report
    )
    VALUES (
        :now, :file, :title, :pattern, :props, :seconds, :heard, :expected, :tempo_asked, :tempo,
        :asynchrony_sd, :interval_sd, :right_later, :drops, :confidence, :report
    )
"""
DROPPED_UNSEEN: Final = """
    UPDATE sets SET catches = NULL
    WHERE id = :set AND status = 'finished' AND outcome IS NOT 'drop'
"""
"""Where the first drop of a set is marked after its end, nobody knows where it was."""


class PracticeLog:
    """A practice log that is being written; several programs may do so at once.

    What a method keeps is on the disk when it returns; else it raises a `LogError`. The log owns
    the database. `clock` returns seconds since 1970.
    """

    def __init__(self, database: Database, clock: Callable[[], float] = time.time) -> None:
        self._database = database
        self._clock = clock

    @classmethod
    def open(
        cls, path: Path, clock: Callable[[], float] = time.time, patience: float = PATIENCE
    ) -> Self:
        """Open the log at `path`, or begin it; missing folders are made.

        `patience` is how many seconds a call waits for another program that writes.

        Raises
        ------
        LogError
            If it cannot be used: newer than the program, damaged, held by another, not writable.
        """
        return cls(open_database(path, patience), clock)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file; what has not ended stays open in it."""
        self._database.close()

    def together(self) -> AbstractContextManager[object]:
        """Return a context of whose changes either all or none reach the disk."""
        return self._database.change()

    @property
    def history(self) -> History:
        """What has been kept so far."""
        return History(self._database, self._clock)

    def begin_session(
        self, props: str = "", device: str = "", file: str = "", resumes: int | None = None
    ) -> int:
        """Begin a session, and return its number.

        `props` is what is juggled, such as ``clubs``, in upper or lower case. `device` is the
        output on which it is heard. `file` is the path of the session file or routine that it
        follows, and `resumes` the number of the session that it goes on from.
        """
        return self._added(
            NEW_SESSION, props=tidied(props), device=tidied(device), file=file, resumes=resumes
        )

    def begin_set(self, session: int, plan: Plan) -> int:
        """Begin a set, and return its number."""
        of_block = {"session": session, "block": plan.block}
        with self._database.change() as connection:
            connection.execute(THROWN_AGAIN, {**of_block, "instead_of": plan.instead_of})
            return self._added(
                NEW_SET,
                **of_block,
                pattern=canonical(plan.pattern).text,
                written=plan.pattern.text,
                objects=plan.pattern.objects,
                cycle_beats=plan.pattern.period,
                first=plan.first,
                tempo=plan.tempo,
                beats=plan.beats,
                props=None if plan.props is None else tidied(plan.props),
                goal=plan.goal,
                part=plan.part,
                after_part=plan.after_part,
            )

    def mark(
        self, number: int, mark: Mark, beat: int | None = None, given_by: Source = KEY
    ) -> Mark | None:
        """Mark a set, during or after it, and return how it counts now.

        One drop makes the set a drop, whatever else is marked; but a later clean mark takes back a
        drop that was heard or that the one pedal gave. `beat` is the last beat heard, None outside
        the throws. `given_by` is one of `SOURCES`.
        """
        with self._database.change() as connection:
            of_set = {"set": number, "now": self._now()}
            given = {"mark": mark, "beat": beat, "given_by": given_by}
            added = connection.execute(NEW_MARK, {**of_set, **given})
            self._expect(added.rowcount, "set", number)
            counts = outcome(self._marks(number))
            if mark == "drop":
                connection.execute(DROPPED_UNSEEN, of_set)
            connection.execute(COUNTS, {**of_set, "outcome": counts})
        return counts

    def progress(self, number: int, thrown: Thrown) -> None:
        """Keep how far a set has come.

        Called every few seconds, it leaves little to lose if the set is interrupted, and tells
        other programs that the set goes on.
        """
        self._changed(SO_FAR, "set", number, _values(thrown))

    def end_set(
        self, number: int, thrown: Thrown, status: Ending = "finished", unmarked: Mark | None = None
    ) -> Mark | None:
        """End a set, and return how it counts.

        `unmarked` is how it counts without a mark; a mark may still come later. A set that was
        stopped does not count without a mark.
        """
        with self._database.change() as connection:
            counts = outcome(self._marks(number), unmarked if status == "finished" else None)
            values = {**_values(thrown), "set": number, "now": self._now()}
            ended = connection.execute(END_OF_SET, {"status": status, "outcome": counts, **values})
            self._expect(ended.rowcount, "set", number)
        return counts

    def end_session(self, session: int) -> None:
        """End a session."""
        self._changed(END_OF_SESSION, "session", session, {})

    def keep_take(self, summary: TakeSummary) -> int:
        """Keep the summary of a take, and return its number."""
        values = {name: getattr(summary, name) for name in summary.__slots__}
        values |= {"props": tidied(summary.props), "report": json.dumps(summary.report)}
        return self._added(NEW_TAKE, **values)

    def _added(self, statement: str, **values: object) -> int:
        with self._database.change() as connection:
            added = connection.execute(statement, {"now": self._now(), **values})
            self._expect(added.rowcount, "session", values.get("session"))
        return added.lastrowid or 0

    def _changed(self, statement: str, thing: str, number: int, values: dict[str, object]) -> None:
        with self._database.change() as connection:
            of_thing = {thing: number, "now": self._now()}
            changed = connection.execute(statement, {**of_thing, **values})
            self._expect(changed.rowcount, thing, number)

    def _now(self) -> int:
        return milliseconds(self._clock())

    def _expect(self, rows: int, thing: str, number: object) -> None:
        if rows != 1:
            raise LogError(f"The practice log {self._database.path} has no {thing} {number}.")

    def _marks(self, number: int) -> list[Mark]:
        given = [
            Given(mark, given_by if given_by in SOURCES else KEY)
            for mark, given_by in self._database.rows(MARKS_OF_SET, {"set": number})
            if mark in MARKS
        ]
        return [each.mark for each in standing(given)]


def _values(thrown: Thrown) -> dict[str, object]:
    return {
        "beats": thrown.beats,
        "seconds": thrown.seconds,
        "tempo": thrown.tempo,
        "catches": thrown.catches,
    }
