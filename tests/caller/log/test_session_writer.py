"""A session is written whatever becomes of its log: held, deleted, replaced, or never writable."""

import json
import math
import shlex
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import Result
from hypothesis import given
from hypothesis import strategies as st

from throwcount.caller.log import session_writer
from throwcount.caller.log.database import BusyLogError, LogError
from throwcount.caller.log.history import History
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import Plan, SetRecord, Thrown
from throwcount.caller.log.session_writer import SessionWriter, take_in
from throwcount.caller.options import arguments
from throwcount.caller.practice.recorder import LogRecorder
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.tempo_rules import Mark

MARKS: tuple[Mark, ...] = ("clean", "drop", "clean", "drop", "drop")


def begun(path: Path, patience: float = 0.1) -> tuple[SessionWriter, int]:
    writer = SessionWriter(path, patience=patience)
    writer.begin_session("plums", "", "", None)
    return writer, writer.begin_set(Plan(read("531"), 180.0))


def sets_of(path: Path) -> list[SetRecord]:
    with History.open(path) as history:
        return sorted(history.sets(), key=lambda each: each.number)


def marks_of(path: Path) -> list[list[Mark]]:
    return [[each.mark for each in one.marks] for one in sets_of(path)]


@contextmanager
def held(path: Path) -> Iterator[None]:
    """Hold the log for writing, as another program may."""
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        connection.rollback()
        connection.close()


def busy(*_about: object) -> None:
    raise BusyLogError("The log is held.")


def test_a_session_is_written_at_once(path: Path) -> None:
    writer, number = begun(path)
    writer.mark(number, "clean", 3, "key")
    writer.progress(number, Thrown(6, 2.0, 180.0, 4))
    assert [(one.beats_thrown, one.catches) for one in sets_of(path)] == [(6, 4)]
    writer.end_set(number, Thrown(9, 3.0, 180.0, 7), "stopped", None)
    assert marks_of(path) == [["clean"]]
    assert writer.close() is None
    with History.open(path) as history:
        assert [session.whole for session in history.sessions()] == [True]


def test_marks_given_while_another_program_holds_the_log_are_all_kept(path: Path) -> None:
    writer, number = begun(path)
    given_at = []
    with held(path):
        for beat, mark in enumerate(MARKS):
            given_at.append(time.time())
            writer.mark(number, mark, beat, "key")
        assert writer.waiting == len(MARKS)
        assert "held by another program" in writer.fault
        assert writer.begin_set(Plan(read("3"), 180.0)) == 1
    writer.retry()
    assert (writer.waiting, writer.fault) == (0, "")
    first, second = sets_of(path)
    assert tuple(each.mark for each in first.marks) == MARKS
    assert second.pattern == "3"
    # They have the moments at which they were given.
    told = [each.moment.timestamp() for each in first.marks]
    assert all(abs(one - other) < 0.1 for one, other in zip(told, given_at, strict=True))


def test_at_the_end_it_waits_for_the_log(path: Path) -> None:
    writer, number = begun(path, patience=30.0)
    holder = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    holder.execute("BEGIN IMMEDIATE")
    letting_go = threading.Timer(0.6, holder.rollback)
    letting_go.start()
    writer.mark(number, "drop", 2, "key")
    assert writer.close() is None
    letting_go.join()
    holder.close()
    assert marks_of(path) == [["drop"]]
    assert not list(path.parent.glob("*not-kept*"))


@pytest.mark.parametrize("ending", [KeyboardInterrupt, SystemExit])
def test_who_ends_the_wait_for_the_log_loses_nothing(
    path: Path, ending: type[BaseException], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file is there while the wait lasts, so that even a kill loses nothing."""
    writer, number = begun(path, patience=30.0)
    seen: list[Path] = []

    def end(_seconds: float) -> None:
        seen.extend(path.parent.glob("*not-kept*.json"))
        raise ending

    monkeypatch.setattr(time, "sleep", end)
    with held(path):
        writer.mark(number, "drop", 2, "key")
        with pytest.raises(ending):
            writer.close()
    assert seen == [writer.aside]
    assert take_in(seen[0], path) == 1
    assert marks_of(path) == [["drop"]]


def test_a_long_wait_is_told_once(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(session_writer, "UNTOLD", 0.1)
    writer, number = begun(path, patience=0.9)
    told: list[str] = []
    with held(path):
        writer.mark(number, "drop", 2, "key")
        assert writer.close(told.append) is not None
    waits = f"Waiting at most 0.9 seconds; the practice is in {writer.aside} meanwhile."
    assert told == [f"{writer.fault} {waits}"]


def test_what_is_kept_during_the_wait_is_not_kept_again(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    writer, number = begun(path, patience=0.1)
    with held(path):
        writer.mark(number, "drop", 2, "key")
        writer.mark(number, "clean", 3, "key")
    with monkeypatch.context() as patched:
        patched.setattr(PracticeLog, "end_session", busy)
        aside = writer.close()
    assert aside is not None
    assert take_in(aside, path) == 1
    assert marks_of(path) == [["drop", "clean"]]


@pytest.mark.parametrize("spoilt", ["foreign", "folder", "newer"])
def test_nobody_waits_for_a_log_that_cannot_heal(
    path: Path, spoilt: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(time, "sleep", lambda _seconds: pytest.fail("it waits"))
    path.parent.mkdir()
    if spoilt == "folder":
        path.mkdir()
    elif spoilt == "foreign":
        path.write_bytes(b"no log at all " * 100)
    else:
        PracticeLog.open(path).close()
        with sqlite3.connect(path) as connection:
            connection.execute("PRAGMA user_version = 1000")
        connection.close()
    assert begun(path, patience=30.0)[0].close() is not None


@pytest.mark.parametrize("replaced", [False, True])
def test_a_log_that_is_taken_away_in_mid_practice(path: Path, replaced: bool) -> None:
    """What was practised before is in the file that was taken away, and in the new one."""
    writer, number = begun(path)
    writer.mark(number, "clean", 2, "key")
    taken = path.with_name("taken.sqlite")
    for name in path.parent.glob(f"{path.name}*"):
        name.rename(taken.with_name(name.name.replace(path.name, taken.name)))
    if replaced:
        with PracticeLog.open(path) as other:
            session = other.begin_session()
            other.mark(other.begin_set(session, Plan(read("744"), 200.0)), "drop")
    writer.mark(number, "drop", 5, "key")
    assert writer.close() is None
    assert marks_of(path) == [["drop"]] * replaced + [["clean", "drop"]]


@pytest.mark.parametrize("spoilt", ["foreign", "folder", "held to the end"])
def test_what_cannot_be_kept_is_put_aside_and_taken_in_later(
    path: Path, spoilt: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    path.parent.mkdir(parents=True)
    whole = path.with_name("whole.sqlite")
    if spoilt == "foreign":
        path.write_bytes(b"no log at all " * 100)
        aside = practised(path)
    elif spoilt == "folder":
        path.mkdir()
        aside = practised(path)
    else:
        whole = path
        writer, number = begun(path)
        writer.mark(number, "clean", 1, "key")
        with held(path):
            aside = practised(path, writer, number)
    assert aside is not None
    assert aside.parent == path.parent
    assert take_in(aside, whole) == 1
    assert marks_of(whole) == [["clean", "drop"]]


def practised(path: Path, writer: SessionWriter | None = None, number: int = 0) -> Path | None:
    if writer is None:
        writer, number = begun(path)
        writer.mark(number, "clean", 1, "key")
    writer.mark(number, "drop", 2, "key")
    writer.end_set(number, Thrown(5, 2.0, 180.0, 2), "stopped", None)
    return writer.close()


def test_a_session_put_aside_goes_into_any_other_log_whole(path: Path, tmp_path: Path) -> None:
    writer, number = begun(path)
    writer.mark(number, "clean", 1, "key")
    with held(path):
        aside = practised(path, writer, number)
    assert aside is not None
    other = tmp_path / "other.sqlite"
    assert take_in(aside, other) == 1
    assert marks_of(other) == [["clean", "drop"]]


WRONG: list[Callable[[dict[str, object]], object]] = [
    lambda _: [],
    lambda document: {**document, "format": "another"},
    lambda document: {**document, "entries": []},
    lambda document: {**document, "entries": [{"act": "mark"}]},
    lambda document: {"entries": document["entries"]},
    lambda document: {**document, "entries": [{**document["entries"][0], "act": "close"}]},
    lambda document: {**document, "entries": [{**document["entries"][0], "values": {"x": 1}}]},
    lambda document: {**document, "entries": [{**document["entries"][0], "moment": "noon"}]},
    lambda document: {**document, "entries": [{**document["entries"][0], "moment": math.inf}]},
    lambda document: {**document, "entries": [{**document["entries"][0], "moment": 10**30}]},
    lambda document: {**document, "entries": [{**document["entries"][0], "moment": 10**15}]},
    lambda document: {**document, "written": 10**30},
    lambda document: {**document, "written": -1},
    lambda _: "text",
]


@pytest.mark.parametrize("wrong", WRONG)
def test_files_that_hold_no_session(
    path: Path, tmp_path: Path, wrong: Callable[[dict[str, object]], object]
) -> None:
    path.mkdir(parents=True)
    aside = practised(path)
    assert aside is not None
    aside.write_text(json.dumps(wrong(json.loads(aside.read_text("utf-8")))), "utf-8")
    with pytest.raises(LogError, match="no session that throwcount put aside"):
        take_in(aside, tmp_path / "log.sqlite")


def test_a_file_of_nothing_but_brackets(tmp_path: Path) -> None:
    aside = tmp_path / "aside.json"
    aside.write_text("[" * 100_000, "utf-8")
    with pytest.raises(LogError, match="no session that throwcount put aside"):
        take_in(aside, tmp_path / "log.sqlite")


@pytest.mark.parametrize("known", [False, True])
def test_a_session_is_taken_in_once_and_whole(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, known: bool
) -> None:
    """The log has none of it, or its beginning."""
    log = tmp_path / "log.sqlite"
    if known:
        log = path
        writer, number = begun(path)
        with held(path):
            aside = practised(path, writer, number)
    else:
        path.mkdir(parents=True)
        aside = practised(path)
    assert aside is not None
    before = sets_of(log)
    tries = iter([PracticeLog.end_session, busy])  # The first is in a log of its own.

    def second_fails(log: PracticeLog, session: int) -> None:
        next(tries)(log, session)

    with monkeypatch.context() as patched:
        patched.setattr(PracticeLog, "end_session", second_fails)
        with pytest.raises(LogError):
            take_in(aside, log)
    assert sets_of(log) == before
    assert take_in(aside, log) == 1
    before = sets_of(log)
    with pytest.raises(LogError, match="has the practice of"):
        take_in(aside, log)
    assert sets_of(log) == before


def test_a_session_that_went_on_from_one_of_another_log_is_taken_in(
    path: Path, tmp_path: Path
) -> None:
    path.mkdir(parents=True)
    writer = SessionWriter(path)
    writer.begin_session("plums", "", "week.toml", 7)
    writer.begin_set(Plan(read("531"), 180.0))
    aside = writer.close()
    assert aside is not None
    assert take_in(aside, tmp_path / "log.sqlite") == 1


@given(st.binary(max_size=60) | st.text(max_size=60).map(str.encode))
def test_any_file_is_taken_in_or_refused_in_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, content: bytes
) -> None:
    folder = tmp_path_factory.mktemp("aside")
    (folder / "aside.json").write_bytes(content)
    with pytest.raises(LogError):
        take_in(folder / "aside.json", folder / "log.sqlite")
    for none in ("none.json", "."):
        with pytest.raises(LogError, match="cannot be read"):
            take_in(folder / none, folder / "log.sqlite")


def test_the_command_takes_in_what_was_put_aside(
    path: Path, tmp_path: Path, run: Callable[..., Result]
) -> None:
    path.mkdir(parents=True)
    aside = practised(path)
    log = tmp_path / "log.sqlite"
    result = run("log", "--take-in", aside, "--log", log)
    assert (result.exit_code, "1 set of" in result.output) == (0, True)
    assert marks_of(log) == [["clean", "drop"]]
    assert run("log", "--take-in", tmp_path / "none.json", "--log", log).exit_code == 3
    assert run("log", "--take-in", aside, "--check", "--log", log).exit_code == 2


@pytest.mark.parametrize("usual", [False, True])
def test_the_command_that_is_told_can_be_copied(
    tmp_path: Path, run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch, usual: bool
) -> None:
    log = tmp_path / "my 'own' folder" / "practice.sqlite"
    if usual:
        monkeypatch.setattr(arguments, "usual_log", lambda: log)
    log.mkdir(parents=True)
    told: list[str] = []
    recorder = LogRecorder(SessionWriter(log), None, told.append)
    recorder.begin_set(Plan(read("531"), 180.0))
    recorder.close()
    command = shlex.split(told[-1].split("`")[1])
    assert command[:3] == ["throwcount", "log", "--take-in"]
    assert command[4:] == ([] if usual else ["--log", str(log)])
    log.rmdir()
    result = run(*command[1:4], "--log", log)
    assert (result.exit_code, "1 set of" in result.output) == (0, True)


def test_who_ends_the_wait_is_told_where_the_practice_is(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupt(_seconds: float) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(time, "sleep", interrupt)
    told: list[str] = []
    writer, _ = begun(path, patience=30.0)
    with held(path):
        recorder = LogRecorder(writer, None, told.append)
        with pytest.raises(KeyboardInterrupt):
            recorder.close()
    assert f"This practice is in {writer.aside}; " in told[-1]
