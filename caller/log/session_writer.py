"""Writes one session into the practice log, whatever becomes of the log meanwhile.

Everything goes into a journal in memory first, and from there into the log, in order. What the log
refuses waits, because another program holds it or the disk is full, and is tried again with all
that comes after. Where the log's file was taken away or replaced, the session is written anew,
from its beginning. What cannot be kept until the end is put into a file of its own, which `take_in`
reads.
"""

import json
import os
import sqlite3
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, Literal, TypeAlias, cast, get_args

from throwcount.caller.log.checking import check_log
from throwcount.caller.log.database import BusyLogError, LogError
from throwcount.caller.log.history import History
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import Ending, Plan, Thrown, milliseconds
from throwcount.engine.errors import EngineError
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.tempo_rules import Mark, Source
from throwcount.sounds.errors import FileError, InputError
from throwcount.sounds.files.whole_files import (
    files_of_one_command,
    read_input,
    temporary_folder,
    undisturbed,
    write_text,
)

Act: TypeAlias = Literal["begin_session", "begin_set", "mark", "progress", "end_set", "end_session"]

ACTS: Final[tuple[Act, ...]] = get_args(Act)

PATIENCE: Final = 0.25
"""Seconds to wait for another program in the middle of a practice, which must not stand still."""

LAST_PATIENCE: Final = 20.0
"""Seconds to wait for another program at the end."""

UNTOLD: Final = 1.0
"""Seconds that pass before the waiting is told."""

BETWEEN_TRIES: Final = 0.05
LARGEST_FILE: Final = 50_000_000
"""Bytes of a file that is taken in: a session of a hundred thousand marks."""

FORMAT: Final = "throwcount session not kept, 1"
"""What a file of what could not be kept says of itself."""


@dataclass(frozen=True, slots=True)
class JournalEntry:
    """Something that happened in a session."""

    act: Act
    """The method of `PracticeLog` that keeps it."""
    moment: float
    """When it happened, in seconds since 1970."""
    set_index: int | None
    """The set that it is about, from 0 in the order begun; None for the session."""
    values: Mapping[str, Any]
    """The other arguments, as JSON has them."""


class SessionWriter:
    """Writes one session; nothing that it is told is lost.

    `path` is the log. `clock` returns seconds since 1970, and `patience` is how many seconds
    `close` waits for another program. `journal` is what has happened already.

    Attributes
    ----------
    path
        The log.
    fault
        Why the log could not be written at the last try; empty if it could.
    aside
        The file that holds what could not be kept; None without one.
    """

    def __init__(
        self,
        path: Path,
        clock: Callable[[], float] = time.time,
        patience: float = LAST_PATIENCE,
        journal: Iterable[JournalEntry] = (),
    ) -> None:
        self.path = path
        self.fault = ""
        self.aside: Path | None = None
        self._held = False
        self._clock = clock
        self._patience = patience
        self._journal = list(journal)
        self._written = 0
        self._moment = 0.0
        self._session = 0
        self._sets: list[int] = []
        self._log: PracticeLog | None = None
        self._file: tuple[int, int] | None = None

    @property
    def waiting(self) -> int:
        """How many marks are not in the log yet."""
        return sum(entry.act == "mark" for entry in self._journal[self._written :])

    def begin_session(self, props: str, device: str, file: str, resumes: int | None) -> None:
        """Begin the session; see `PracticeLog.begin_session`."""
        values = {"props": props, "device": device, "file": file, "resumes": resumes}
        self._note("begin_session", None, values)

    def begin_set(self, plan: Plan) -> int:
        """Begin a set, and return its index in the session."""
        index = sum(entry.act == "begin_set" for entry in self._journal)
        self._note("begin_set", index, {**_fields(plan), "pattern": plan.pattern.text})
        return index

    def mark(self, index: int, mark: Mark, beat: int | None, source: Source) -> None:
        """Mark a set."""
        self._note("mark", index, {"mark": mark, "beat": beat, "given_by": source})

    def progress(self, index: int, thrown: Thrown) -> None:
        """Keep how far a set has come, unless something waits; the end of the set has it anyway."""
        if self._written == len(self._journal):
            self._note("progress", index, {"thrown": asdict(thrown)})
            if self._written < len(self._journal):
                self._journal.pop()

    def end_set(self, index: int, thrown: Thrown, status: Ending, unmarked: Mark | None) -> None:
        """End a set."""
        values = {"thrown": asdict(thrown), "status": status, "unmarked": unmarked}
        self._note("end_set", index, values)

    def retry(self) -> None:
        """Write what waits, as far as the log takes it."""
        try:
            self._write_waiting(self._opened())
        except LogError as error:
            self.fault, self._held = str(error), isinstance(error, BusyLogError)
        else:
            self.fault = ""

    def go_on_from(self, written: int, session: int, sets: Sequence[int]) -> None:
        """Write what waits, if the log still has the first `written` entries; else all of them.

        `session` and `sets` are the numbers that they have in the log. Either all is written or
        nothing.

        Raises
        ------
        LogError
            If the log cannot be written.
        """
        log = self._opened()
        with log.together():
            if written and log.history.began(session) == milliseconds(self._journal[0].moment):
                self._written, self._session, self._sets = written, session, list(sets)
            self._write_waiting(log)

    def close(self, tell: Callable[[str], object] = len) -> Path | None:
        """End the session; return the file that holds what could not be kept, or None.

        Where another program holds the log, the file is written first and deleted when everything
        has been kept, so that a signal during the wait loses nothing. `tell` is called with a
        sentence if the wait is long.

        Raises
        ------
        FileError
            If that file cannot be written either.
        """
        self._journal.append(JournalEntry("end_session", self._clock(), None, {}))
        try:
            self._end(tell)
        finally:
            if self._log is not None:
                self._log.close()
        return self.aside

    def _end(self, tell: Callable[[str], object]) -> None:
        if not self.fault:
            self.retry()
        if not self.fault:
            return
        with suppress(FileError):  # It is tried again below.
            self._put_aside()
        try:
            self.retry()
            self._wait(tell)
        finally:
            if self.fault:
                self._put_aside()
            elif self.aside is not None:
                self.aside.unlink(missing_ok=True)
                self.aside = None

    def _wait(self, tell: Callable[[str], object]) -> None:
        """Try again for as long as another program holds the log, up to the patience."""
        begun, told = time.monotonic(), False
        while self.fault and self._held and time.monotonic() - begun < self._patience:
            if not told and time.monotonic() - begun > UNTOLD:
                meanwhile = f"; the practice is in {self.aside} meanwhile" if self.aside else ""
                tell(f"{self.fault} Waiting at most {self._patience:g} seconds{meanwhile}.")
                told = True
            time.sleep(BETWEEN_TRIES)
            self.retry()

    def _note(self, act: Act, index: int | None, values: Mapping[str, Any]) -> None:
        self._journal.append(JournalEntry(act, self._clock(), index, values))
        self.retry()

    def _opened(self) -> PracticeLog:
        """Return the log; where its file is another one than before, begin anew in that."""
        if self._log is not None and self._file != _identity(self.path):
            self._log.close()
            self._log = None
        if self._log is None:
            self._written, self._sets = 0, []
            self._log = PracticeLog.open(self.path, lambda: self._moment, PATIENCE)
            self._file = _identity(self.path)
        return self._log

    def _write_waiting(self, log: PracticeLog) -> None:
        while self._written < len(self._journal):
            with undisturbed():
                self._write(log, self._journal[self._written])
                self._written += 1

    def _write(self, log: PracticeLog, entry: JournalEntry) -> None:
        self._moment = entry.moment
        values, number = dict(entry.values), 0
        if entry.set_index is not None and entry.set_index < len(self._sets):
            number = self._sets[entry.set_index]
        if thrown := values.pop("thrown", None):
            values["thrown"] = Thrown(**thrown)
        match entry.act:
            case "begin_session":
                if values["resumes"] is not None and log.history.began(values["resumes"]) is None:
                    values["resumes"] = None  # It is in another log.
                self._session = log.begin_session(**values)
            case "begin_set":
                plan = Plan(**{**values, "pattern": read(values["pattern"])})
                self._sets.append(log.begin_set(self._session, plan))
            case "end_session":
                log.end_session(self._session)
            case act if act in ACTS:
                getattr(log, act)(number, **values)
            case act:
                raise ValueError(act)

    def _put_aside(self) -> None:
        """Write the whole session into a file beside the log, or else in this folder.

        A file that is there already is replaced, or stays if it cannot be.
        """
        began = datetime.fromtimestamp(self._journal[0].moment, UTC).astimezone()
        stamp = f"{began:%Y-%m-%d-%H%M%S}"
        name = f"{self.path.stem}-not-kept-{stamp}-{os.getpid()}.json"
        document = {
            "format": FORMAT,
            "written": self._written,
            "session": self._session,
            "sets": self._sets,
            "entries": [asdict(entry) for entry in self._journal],
        }
        text = json.dumps(document, indent=1)
        places = [self.aside] if self.aside else [self.path.parent / name, Path.cwd() / name]
        for place in places:
            try:
                with files_of_one_command():  # The file itself is an output that is replaced.
                    write_text(place, [text, "\n"], overwrite=place == self.aside)
            except FileError:
                if self.aside is None and place == places[-1]:
                    raise
            else:
                self.aside = place
                return


WRONG: Final = (
    *(ValueError, TypeError, LookupError, AttributeError, OverflowError, RecursionError),
    *(EngineError, sqlite3.Error),
)
"""What is raised by a file that holds something else."""


def take_in(path: Path, log: Path) -> int:
    """Put a session that could not be kept into the log; return how many sets it has.

    Raises
    ------
    LogError
        If the log cannot be written or has the session already, or the file holds no such session.
    """
    wrong = LogError(f"{path} is no session that throwcount put aside.")
    try:
        document = json.loads(read_input(path, LARGEST_FILE).decode("utf-8"))
        entries = [JournalEntry(**each) for each in document["entries"]]
        if document["format"] != FORMAT or not 0 <= document["written"] <= len(entries):
            raise wrong
        with temporary_folder() as folder:  # What is wrong with it is found out there.
            trial = folder / "log.sqlite"
            _write_journal(document, entries, trial)
            if not check_log(trial).whole:
                raise wrong
        began, ended = (milliseconds(each.moment) for each in (entries[0], entries[-1]))
        with History.open(log) as history:
            if history.has_session(entries[0].values["file"], began, ended):
                raise LogError(f"The practice log {log} has the practice of {path} already.")
        _write_journal(document, entries, log)
    except InputError as error:
        raise LogError(f"{path} cannot be read: it is {error.kind}.") from error
    except OSError as error:
        raise LogError(f"{path} cannot be read: {error.strerror or error}.") from error
    except WRONG as error:
        raise wrong from error
    return sum(entry.act == "begin_set" for entry in entries)


def _write_journal(document: Mapping[str, Any], entries: Sequence[JournalEntry], log: Path) -> None:
    writer = SessionWriter(log, journal=entries)
    writer.go_on_from(document["written"], document["session"], document["sets"])


def _identity(path: Path) -> tuple[int, int] | None:
    """Return what tells a file from another one of the same name; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _fields(plan: Plan) -> dict[str, Any]:
    return {name: getattr(plan, name) for name in cast("tuple[str, ...]", Plan.__slots__)}
