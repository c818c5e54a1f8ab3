"""A log that cannot be used is told in one plain sentence, and nothing else goes wrong."""

import json
import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from click.testing import Result
from hypothesis import given, settings
from hypothesis import strategies as st
from kept_takes import TAKE
from waiting import LIMIT

from throwcount.caller.log.database import (
    MIGRATIONS,
    BusyLogError,
    DamagedLogError,
    ForeignFileError,
    LogError,
    NewerLogError,
    UnwritableLogError,
)
from throwcount.caller.log.history import History
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import Plan, Thrown
from throwcount.engine.patterns.rules import read

Run = Callable[..., Result]
PATIENCE = 0.05
NOBODY = 65_534


def practised(path: Path, sets: int = 1) -> Path:
    with PracticeLog.open(path) as log:
        session = log.begin_session()
        for _ in range(sets):
            number = log.begin_set(session, Plan(read("531"), 150.0))
            log.mark(number, "clean", 5)
            log.end_set(number, Thrown(30, 12.0, 150.0))
            log.keep_take(TAKE)
    return path


def altered(path: Path, statement: str) -> None:
    connection = sqlite3.connect(path)
    connection.execute(statement)
    connection.commit()
    connection.close()


def newer(path: Path) -> None:
    altered(practised(path), f"PRAGMA user_version = {len(MIGRATIONS) + 1}")


def of_another_program(path: Path) -> None:
    path.parent.mkdir()
    altered(path, "CREATE TABLE recipes (name TEXT)")


def with_other_tables(path: Path) -> None:
    altered(practised(path), "DROP TABLE marks")


def a_text(path: Path) -> None:
    path.parent.mkdir()
    path.write_text("Tuesday: 531, went well.\n" * 100, "utf-8")


def cut_short(path: Path) -> None:
    os.truncate(practised(path, 200), 6000)


def a_folder(path: Path) -> None:
    path.mkdir(parents=True)


def under_a_file(path: Path) -> None:
    path.parent.write_text("a file where a folder should be", "utf-8")


WRONG = [
    (newer, NewerLogError, "written by a newer throwcount"),
    (of_another_program, ForeignFileError, "a file of another program"),
    (with_other_tables, LogError, "cannot be used: no such table: marks"),
    (a_text, DamagedLogError, "is damaged, or is not a practice log. `throwcount log --repair"),
    (cut_short, DamagedLogError, "is damaged. `throwcount log --repair FILE` saves"),
    (a_folder, UnwritableLogError, "cannot be opened"),
    (under_a_file, UnwritableLogError, "cannot be"),
]


@pytest.mark.parametrize(("made", "kind", "fragment"), WRONG)
def test_to_write(
    path: Path, made: Callable[[Path], None], kind: type[LogError], fragment: str
) -> None:
    made(path)
    with pytest.raises(kind) as caught:
        practised(path)
    assert fragment in caught.value.message
    assert str(path) in caught.value.message
    assert caught.value.message.endswith(".")


@pytest.mark.parametrize(("made", "kind", "fragment"), WRONG)
def test_to_read(
    run: Run, path: Path, made: Callable[[Path], None], kind: type[LogError], fragment: str
) -> None:
    made(path)
    result = run("log", "--json", "--log", str(path))
    if path.is_dir():
        assert (result.exit_code, "is a directory" in result.stderr) == (2, True)
    elif not path.exists():
        assert result.exit_code == 0
    else:
        assert result.exit_code == kind.exit_code == 3
        assert fragment in json.loads(result.stdout)["message"]
        assert not result.stderr


def test_what_is_held_by_another_is_told_and_goes_on_later(path: Path) -> None:
    with PracticeLog.open(practised(path), patience=PATIENCE) as log:
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(BusyLogError, match="held by another program"):
            log.mark(1, "drop")
        with History.open(path) as history:
            assert history.totals().clean == 1
        other.execute("ROLLBACK")
        other.close()
        assert log.mark(1, "drop") == "drop"


def in_a_process(code: str, *arguments: object) -> "subprocess.CompletedProcess[str]":
    """Run code of its own rights and limits, with the arguments in `sys.argv`."""
    command = [sys.executable, "-c", code, *map(str, arguments)]
    return subprocess.run(command, check=False, capture_output=True, text=True, timeout=LIMIT)


AS_NOBODY = f"""
import os, sys
import urllib.parse  # where only root may read Python itself, nothing can be imported later
from pathlib import Path
import throwcount.caller.commands.log, throwcount.caller.main, throwcount.caller.log.log
import throwcount.caller.log.page, throwcount.sounds.errors  # loaded by the command as it runs
if os.geteuid() == 0:
    os.seteuid({NOBODY})
path = Path(sys.argv[1])
"""
WRITE = f"""{AS_NOBODY}
try:
    throwcount.caller.log.log.PracticeLog.open(path).begin_session()
except throwcount.caller.log.database.UnwritableLogError as error:
    print(error.message)
"""
SHOW = f"{AS_NOBODY}throwcount.caller.main.throwcount(['log', '--log', str(path)])"


@pytest.fixture
def public() -> Iterator[Path]:
    """A folder that every user of this machine may read."""
    with TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        yield Path(folder)


@pytest.mark.skipif(os.name == "nt", reason="needs POSIX permissions")
@pytest.mark.parametrize("folder_mode", [0o555, 0o777])
def test_a_log_that_may_only_be_read_is_still_shown(public: Path, folder_mode: int) -> None:
    path = practised(public / "data" / "practice.sqlite")
    path.chmod(0o444)
    path.parent.chmod(folder_mode)
    refused = in_a_process(WRITE, path)
    assert refused.stdout.startswith(f"The practice log {path} cannot be"), refused
    shown = in_a_process(SHOW, path)
    assert (shown.returncode, shown.stderr) == (0, "")
    assert "1 set of 1 pattern" in shown.stdout


@pytest.mark.skipif(os.name == "nt", reason="needs POSIX permissions")
def test_a_log_in_a_folder_that_is_closed_is_told(public: Path) -> None:
    path = practised(public / "data" / "practice.sqlite")
    path.parent.chmod(0o700)
    shown = in_a_process(SHOW, path)
    assert (shown.returncode, shown.stdout) == (3, "")
    assert shown.stderr.startswith(f"The practice log {path} cannot be")


FILLED = """
import resource, signal, sys
from pathlib import Path
from throwcount.caller.log.database import UnwritableLogError
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import Plan
from throwcount.engine.patterns.rules import read
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
log = PracticeLog.open(Path(sys.argv[1]))
number = log.begin_set(log.begin_session(), Plan(read("531"), 150.0))
resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))
marks = 0
try:
    while True:
        log.mark(number, "clean", marks)
        marks += 1
except UnwritableLogError as error:
    print(marks, error.message)
"""


@pytest.mark.skipif(os.name == "nt", reason="needs POSIX limits")
def test_a_full_disk_is_told_and_what_was_kept_stays(path: Path) -> None:
    done = in_a_process(FILLED, path)
    marks, _, message = done.stdout.partition(" ")
    assert "The disk is full, or failed." in message, done
    with History.open(path) as history:
        (kept,) = history.sets()
    assert [mark.beat for mark in kept.marks] == list(range(int(marks)))


@pytest.mark.parametrize("report", ["{", "[]", "7", "", "[" * 100_000])
def test_a_take_whose_report_cannot_be_read_is_told(path: Path, report: str) -> None:
    altered(practised(path), f"UPDATE takes SET report = '{report}'")
    assert "is damaged" in read_whole(path)


@pytest.mark.parametrize(
    "damage",
    [
        "tempo_fastest = 'quick'",
        "tempo_end = 9e999",
        "seconds = 9e999",
        "catches = 'many'",
        "catches = 1.5",
        "goal = 'far'",
        "objects = 'three'",
        "written = x'ff'",
        "started = 8e15",
        "seen = 'late'",
    ],
)
def test_values_that_no_set_has_are_told(path: Path, damage: str) -> None:
    altered(practised(path), "UPDATE sessions SET ended = NULL")
    altered(path, f"UPDATE sets SET {damage}")
    assert "is damaged" in read_whole(path)


@pytest.mark.parametrize(
    "damage",
    [
        "block = 'first'",
        "block = 1.5",
        "tempo_end = 'quick'",
        "tempo_end = 9e999",
        "beats_thrown = 'many'",
        "beats_thrown = x'ff'",
        "catches = 'many'",
        "catches = ''",
    ],
)
def test_values_that_no_set_of_a_session_file_has_are_told(path: Path, damage: str) -> None:
    with PracticeLog.open(path) as log:
        session = log.begin_session(file="week.toml")
        log.begin_set(session, Plan(read("531"), 150.0, block=1))
        assert len(log.history.sets_of_file("week.toml")[1]) == 1
        altered(path, f"UPDATE sets SET {damage}")
        with pytest.raises(DamagedLogError, match="is damaged"):
            log.history.sets_of_file("week.toml")


def test_a_mark_that_nobody_gave_is_told(path: Path) -> None:
    altered(practised(path), "UPDATE marks SET given_by = x'ff'")
    assert "is damaged" in read_whole(path)


@pytest.mark.parametrize(
    "values",
    [
        "sets SET seconds = -5",
        "sets SET pattern = x'fffe'",
        "sets SET started = 'yesterday'",
        "sessions SET props = x'00ff'",
        "sessions SET ended = 'never'",
        "takes SET asynchrony_sd = 'wide'",
        "takes SET tempo = -1",
        "takes SET sureness = 'quite'",
        "takes SET kept = 'once'",
    ],
)
def test_a_damaged_value_is_told_or_of_no_importance(run: Run, path: Path, values: str) -> None:
    altered(practised(path), f"UPDATE {values}")
    for form in ([], ["--json"], ["--csv"]):
        result = run("log", "--log", path, *form)
        assert result.exit_code in {0, 3}, result.output
        assert "a fault in throwcount" not in result.output
        if result.exit_code:
            assert "is damaged. `throwcount log --repair" in result.output


def test_a_cycle_without_beats_does_no_harm(path: Path, run: Run) -> None:
    altered(practised(path), "UPDATE sets SET cycle_beats = 0")
    assert run("log", "--csv", "--log", str(path)).exit_code == 0


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return practised(tmp_path_factory.mktemp("whole") / "practice.sqlite", 60)


NOISE = st.sampled_from([1, 16, 512, 4096]).flatmap(
    lambda size: st.binary(min_size=size, max_size=size)
)


@settings(max_examples=150)
@given(share=st.floats(0, 1, exclude_max=True), noise=NOISE)
def test_any_damage_is_told_plainly(
    whole: Path, tmp_path: Path, share: float, noise: bytes
) -> None:
    content = whole.read_bytes()
    start = int(share * len(content))
    path = tmp_path / "damaged.sqlite"
    for left in tmp_path.iterdir():
        left.unlink()
    path.write_bytes((content[:start] + noise + content[start + len(noise) :])[: len(content)])
    told = read_whole(path)
    assert not told or told.startswith((f"The practice log {path} ", f"{path} is a file of"))


def read_whole(path: Path) -> str:
    """Return what is told of a log that cannot be read, or nothing."""
    try:
        with History.open(path) as history:
            history.totals()
            for listed in (
                *(history.sets(), history.sessions(), history.patterns()),
                *(history.days(), history.takes(), history.parts(), history.changes()),
                history.runs(datetime(2026, 3, 31, tzinfo=UTC)),
            ):
                assert all(one is not None for one in listed)
    except LogError as error:
        return error.message
    return ""
