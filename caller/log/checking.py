"""Whether a log is whole: its pages, what refers to what, and values that nothing can have.

`RANGES` says what each column can hold. A value that it cannot hold is *mended* where the rest of
the row tells the true one, or where the column may say that it is not known. `backed_up` copies a
log, and compares the copy with it.
"""

import json
from collections.abc import Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, Final

from throwcount.caller.log.database import (
    FULL,
    MOST_BEATS,
    DamagedLogError,
    Database,
    LogError,
    UnwritableLogError,
    damaged,
    empty_database,
    is_there,
    open_copy,
    open_database_to_read,
)
from throwcount.caller.log.records import FARTHEST
from throwcount.engine.errors import EngineError
from throwcount.engine.patterns.rows import canonical
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.tempo_rules import MARKS
from throwcount.engine.timing.tempo import FASTEST_TEMPO, SLOWEST_TEMPO
from throwcount.sounds.errors import FileError
from throwcount.sounds.files.whole_files import check_free, whole_file

MISSING: Final = object()
"""In place of a value that says "not known", where a column has none."""


@dataclass(frozen=True, slots=True)
class Allowed:
    """What a column can hold."""

    kind: type
    """int, float (a whole number does as well) or str."""
    least: float = 0
    most: float = MOST_BEATS
    among: tuple[str, ...] = ()
    """The texts that it can hold; empty for any."""
    unknown: object = MISSING
    """What says that the value is not known, if anything does."""

    def holds(self, value: object) -> bool:
        """Return whether a value can be in the column."""
        if self.kind is str:
            return isinstance(value, str) and (not self.among or value in self.among)
        number = isinstance(value, int) or (isinstance(value, float) and self.kind is float)
        return number and self.least <= value <= self.most  # type: ignore[operator]


MOMENT: Final = Allowed(int, -FARTHEST, FARTHEST)
COUNT: Final = Allowed(int)
NUMBER: Final = Allowed(int, 1)
SECONDS: Final = Allowed(float)
TEMPO: Final = Allowed(float, SLOWEST_TEMPO / 10, FASTEST_TEMPO * 10)
"""Wider than what can be asked for, as a routine at a share of its tempo goes beyond it."""
TEXT: Final = Allowed(str)
NAME: Final = Allowed(str, unknown="")
SPREAD: Final = Allowed(float, -MOST_BEATS, MOST_BEATS, unknown=None)


def _or_unknown(allowed: Allowed) -> Allowed:
    return replace(allowed, unknown=None)


RANGES: Final[Mapping[str, Mapping[str, Allowed]]] = {
    "sessions": {
        "started": MOMENT,
        "ended": _or_unknown(MOMENT),
        "props": NAME,
        "device": NAME,
        "file": NAME,
        "resumes": _or_unknown(NUMBER),
    },
    "sets": {
        "session_id": NUMBER,
        "pattern": TEXT,
        "written": TEXT,
        "objects": COUNT,
        "cycle_beats": NUMBER,
        "props": NAME,
        "first_hand": Allowed(str, among=("right", "left")),
        "tempo_start": TEMPO,
        "tempo_end": TEMPO,
        "tempo_fastest": TEMPO,
        "beats_planned": _or_unknown(COUNT),
        "beats_thrown": COUNT,
        "seconds": SECONDS,
        "started": MOMENT,
        "seen": MOMENT,
        "ended": _or_unknown(MOMENT),
        "status": Allowed(str, among=("open", "finished", "stopped")),
        "outcome": Allowed(str, among=MARKS, unknown=None),
        "catches": _or_unknown(Allowed(int, most=MOST_BEATS * MOST_BEATS)),
        "goal": _or_unknown(COUNT),
        "block": _or_unknown(NUMBER),
        "part": NAME,
        "after_part": NAME,
    },
    "marks": {
        "set_id": NUMBER,
        "mark": Allowed(str, among=MARKS),
        "moment": MOMENT,
        "beat": _or_unknown(Allowed(int, -MOST_BEATS)),
        "given_by": Allowed(str, unknown="key"),
    },
    "takes": {
        "kept": MOMENT,
        "file": NAME,
        "title": NAME,
        "pattern": NAME,
        "props": NAME,
        "seconds": SECONDS,
        "heard": COUNT,
        "expected": COUNT,
        "tempo_asked": _or_unknown(SECONDS),
        "tempo": _or_unknown(SECONDS),
        "asynchrony_sd": SPREAD,
        "interval_sd": SPREAD,
        "right_later": SPREAD,
        "drops": COUNT,
        "sureness": Allowed(float, 0, 1),
        "report": Allowed(str, unknown="{}"),
    },
}
"""The columns of each table but its number; tables that are referred to come first."""

OF_PATTERN: Final = ("pattern", "objects", "cycle_beats")


def impossible_columns(table: str, row: Mapping[str, Any]) -> list[str]:
    """Return the columns of a row whose values nothing can have, or that contradict another."""
    found = [
        name
        for name, allowed in RANGES[table].items()
        if name in row
        and not allowed.holds(row[name])
        and not (row[name] is None and allowed.unknown is None)
    ]
    if found:
        return found
    if table == "sets":
        told = _told_by(row["written"])
        if told is None:
            return ["written"]
        return [name for name in OF_PATTERN if row[name] != told[name]]
    if table == "takes":
        found += ["pattern"] * (row["pattern"] != "" and _told_by(row["pattern"]) is None)
        found += ["report"] * (not _is_report(row["report"]))
    return found


@lru_cache(4096)
def _told_by(written: str) -> dict[str, Any] | None:
    """Return what a pattern tells of its row; None for a text that is no pattern."""
    try:
        pattern = read(written)
        told = (canonical(pattern).text, pattern.objects, pattern.period)
    except EngineError:
        return None
    return dict(zip(OF_PATTERN, told, strict=True))


def _is_report(text: str) -> bool:
    try:
        return isinstance(json.loads(text), dict)
    except (ValueError, RecursionError):
        return False


def mended(table: str, row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row with its impossible values replaced by what is known, as far as that goes."""
    known = dict(row)
    for name in impossible_columns(table, row):
        allowed = RANGES[table][name]
        if allowed.unknown is not MISSING:
            known[name] = allowed.unknown
    if table == "sets" and impossible_columns(table, known):
        known |= _pattern_from_rest(known) | _progress_from_rest(known)
    return known


def _pattern_from_rest(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return the columns about the pattern from that text which can be read and fits the rest."""
    texts = [text for text in (row["written"], row["pattern"]) if isinstance(text, str)]
    told = [(text, found) for text in texts if (found := _told_by(text))]
    fitting = [each for each in told if each[1]["objects"] == row["objects"]]
    agreed = {found["pattern"] for _, found in told}
    if not fitting and len(agreed) != 1:
        return {}
    text, found = (fitting or told)[0]
    return {"written": text, **found}


def _progress_from_rest(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return impossible values of a set that others tell: fastest tempo, last sign, status."""
    allowed, rest = RANGES["sets"], dict[str, Any]()
    tempos = [row[name] for name in ("tempo_start", "tempo_end")]
    if not TEMPO.holds(row["tempo_fastest"]) and all(map(TEMPO.holds, tempos)):
        rest["tempo_fastest"] = max(tempos)
    if not MOMENT.holds(row["seen"]):
        rest["seen"] = row["started"] if row["ended"] is None else row["ended"]
    if not allowed["status"].holds(row["status"]):
        planned, thrown = row["beats_planned"], row["beats_thrown"]
        whole = planned is not None and COUNT.holds(thrown) and thrown >= planned
        ended = "finished" if whole else "stopped"
        rest["status"] = "open" if row["ended"] is None else ended
    return rest


@dataclass(frozen=True, slots=True)
class WrongValue:
    """A value that nothing can have, or that contradicts the rest of its row."""

    table: str
    row: int
    """The number of the row."""
    column: str
    value: Any
    """As the log has it."""


@dataclass(slots=True)
class LogCheck:
    """What was found out about a log."""

    version: int | None = None
    """The version of the program's tables; None if it cannot be read, 0 for an empty file."""
    rows: dict[str, int] = field(default_factory=dict)
    """How many rows each table has; without those that cannot be read."""
    damage: list[str] = field(default_factory=list)
    """What SQLite says of pages, indexes and references."""
    values: list[WrongValue] = field(default_factory=list)
    """The values that nothing can have."""

    @property
    def whole(self) -> bool:
        """Whether nothing is wrong."""
        return not self.damage and not self.values


def check_log(path: Path) -> LogCheck:
    """Look through the log at `path`, without bringing it up to date; without a file it is whole.

    Raises
    ------
    LogError
        If it cannot be opened, is no file, or one of another program, or of a newer version of
        this one.
    """
    try:
        database = open_database_to_read(path, as_it_is=True)
    except DamagedLogError:
        return LogCheck(damage=["Its first page cannot be read."])
    return _checked(database)


def _checked(database: Database) -> LogCheck:
    found = LogCheck()
    with closing(database):
        for look in (_look_at_pages, _look_at_references, _look_at_values):
            try:
                look(database, found)
            except DamagedLogError as error:
                said = f"SQLite says: {error.__cause__}."
                found.damage += [said] * (said not in found.damage)
    return found


def _look_at_pages(database: Database, found: LogCheck) -> None:
    found.version = _only(database, "PRAGMA user_version")
    if found.version < 1 and _only(database, "SELECT count(*) FROM sqlite_master"):
        found.damage.append(f"It says that it has version {found.version}, which no log has.")
    found.damage += _said_of_pages(database)


def _said_of_pages(database: Database) -> list[str]:
    """Return what SQLite finds wrong with pages and indexes."""
    said = [str(row[0]) for row in database.rows("PRAGMA integrity_check", {})]
    return [line for one in said if one != "ok" for line in one.splitlines()]


def _look_at_references(database: Database, found: LogCheck) -> None:
    for table, row, other, _ in database.rows("PRAGMA foreign_key_check", {}):
        found.damage.append(f"Row {row} of {table} refers to a row of {other} that is missing.")


def _look_at_values(database: Database, found: LogCheck) -> None:
    if found.version is None or found.version < 1:
        return
    for table, columns in layout(found.version).items():
        there = {row["name"] for row in database.rows(f"PRAGMA table_info({table})", {})}
        if not there:
            found.damage.append(f"The table {table} is missing.")
            continue
        if missing := [name for name in columns if name not in there]:
            found.damage.append(f"Columns of {table} are missing: {', '.join(missing)}.")
            continue
        found.rows[table] = 0
        for row in database.rows(f"SELECT * FROM {table}", {}):  # noqa: S608 - one of ours
            found.rows[table] += 1
            found.values += wrong_values(table, row["id"], dict(row))


def wrong_values(table: str, number: int, row: Mapping[str, Any]) -> Iterator[WrongValue]:
    """Yield the impossible values of a row."""
    for name in impossible_columns(table, row):
        yield WrongValue(table, number, name, row[name])


@cache
def layout(version: int) -> Mapping[str, list[str]]:
    """Return the columns of each table of a version."""
    with closing(empty_database(Path(), max(version, 0))) as database:
        columns = {
            table: [row["name"] for row in database.rows(f"PRAGMA table_info({table})", {})]
            for table in RANGES
        }
    return {table: names for table, names in columns.items() if names}


def _only(database: Database, query: str) -> int:
    row = database.row(query, {})
    return 0 if row is None else int(row[0])


def check_is_there(log: Path) -> None:
    """Raise `LogError` unless there is a log, or at least a file."""
    if not is_there(log):
        raise LogError(f"There is no practice log {log} yet.")


def check_place(log: Path, path: Path, *, overwrite: bool) -> None:
    """Check that a log may be put at `path`, beside the log that it comes from.

    Raises
    ------
    FileError
        If `path` is that log under any name, or a file of its own; if a journal lies beside it,
        which SQLite would take for part of the new log; or if it is not free.
    """
    place = path.resolve()  # Links are followed, here and by SQLite.
    for ending in ("", "-wal", "-shm", "-journal"):
        of_log, beside = (each.with_name(each.name + ending) for each in (log.resolve(), place))
        same = path.exists() and of_log.exists() and path.samefile(of_log)
        if same or place == of_log:
            raise FileError(f"{path} is the practice log itself, or belongs to it. Name another.")
        if ending and beside.exists():
            raise FileError(
                f"{path} cannot be written, because {beside} is there, which would be taken for a "
                "part of it. Name another file, or end the program that has it open."
            )
    check_free(path, overwrite=overwrite)


def backed_up(log: Path, path: Path, *, overwrite: bool) -> dict[str, int]:
    """Copy the log to `path`, while others may write it, and return the rows of each table.

    The copy is checked page by page, and its rows are counted against those of the log.

    Raises
    ------
    LogError
        If the log cannot be read, or is damaged.
    FileError
        As `check_place` does, and if `path` cannot be written.
    """
    check_is_there(log)
    check_place(log, path, overwrite=overwrite)
    with (
        whole_file(path, overwrite=overwrite) as unfinished,
        closing(open_database_to_read(log, as_it_is=True)) as database,
        database.unchanging(),
    ):
        return copied(database, unfinished, path)


def copied(database: Database, unfinished: Path, path: Path) -> dict[str, int]:
    """Copy a log into an empty file that is to become `path`, check it, and return its rows.

    Raises
    ------
    DamagedLogError
        If the copy is damaged, as the log must be then.
    FileError
        If the file cannot be written, or did not become like the log.
    """
    rows = _counted(database)
    try:
        database.copy_to(unfinished)
    except UnwritableLogError as error:
        raise FileError(f"{path} cannot be written. {FULL}") from error
    try:
        with closing(open_copy(unfinished)) as copy:
            said, copied_rows = _said_of_pages(copy), _counted(copy)
    except DamagedLogError as error:
        raise damaged(database.path) from error
    if said:
        raise damaged(database.path)
    if copied_rows != rows:
        raise FileError(f"{path} was not written: the copy was not like the log.")
    return rows


def _counted(database: Database) -> dict[str, int]:
    """Return how many rows each table has."""
    tables = layout(_only(database, "PRAGMA user_version"))
    return {table: _only(database, f"SELECT count(*) FROM {table}") for table in tables}  # noqa: S608
