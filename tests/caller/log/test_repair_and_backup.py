"""`log --check`, `--repair` and `--backup`: what they tell, and what they leave as it is."""

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result
from damaged_logs import PAGE, TABLES, changed, overwritten, rows_of

from throwcount.caller.log.checking import check_log
from throwcount.caller.log.log import PracticeLog

Run = Callable[..., Result]


def test_a_repair_is_told(run: Run, small: Path, new: Path) -> None:
    changed(small, "UPDATE sets SET goal = 'far'", "UPDATE marks SET moment = 'noon'")
    log = ("log", "--log", str(small))
    told = run(*log)
    assert (told.exit_code, "`throwcount log --repair FILE`" in told.stderr) == (3, True)
    checked = run(*log, "--check")
    assert (checked.exit_code, checked.stderr) == (1, "")
    lines = [" ".join(line.split()) for line in checked.stdout.splitlines()]
    assert {"sets 1 goal 'far'", "marks 1 moment 'noon'"} <= set(lines)
    assert "throwcount log --repair" in checked.stdout.replace("\n", " ")
    document = json.loads(run(*log, "--check", "--json").stdout)
    assert document["whole"] is False
    assert document["values"][0] == {"table": "sets", "row": 1, "column": "goal", "value": "far"}
    done = run(*log, "--repair", str(new))
    assert (done.exit_code, done.stderr) == (0, "")
    page = " ".join(done.stdout.split())
    assert "1 session, 1 set and 1 take." in page
    assert "Left out for a value that cannot be true: 1 mark." in page
    again = run(*log, "--repair", str(new))
    assert (again.exit_code, "was left as it is" in again.stderr) == (3, True)
    document = json.loads(run(*log, "--repair", str(new), "--force", "--json").stdout)
    assert document["rows"] == {"sessions": 1, "sets": 1, "marks": 0, "takes": 1}
    assert (document["complete"], document["left_out"]) == (False, {"marks": 1})
    assert run("log", "--check", "--log", str(new)).exit_code == 0


@pytest.mark.parametrize("option", ["--repair", "--backup"])
@pytest.mark.parametrize("name", ["log", "link", "second name", "journal"])
def test_nothing_is_written_over_the_log_itself(
    run: Run, small: Path, option: str, name: str
) -> None:
    link, second = small.with_name("link.sqlite"), small.with_name("second.sqlite")
    link.symlink_to(small)
    os.link(small, second)
    journal = small.with_name(f"{small.name}-wal")
    place = {"log": small, "link": link, "second name": second, "journal": journal}[name]
    before = small.read_bytes()
    result = run("log", option, str(place), "--force", "--log", str(small))
    assert (result.exit_code, "is the practice log itself" in result.stderr) == (3, True)
    assert small.read_bytes() == before
    assert {each.name for each in small.parent.iterdir()} == {small.name, link.name, second.name}


@pytest.mark.parametrize("option", ["--repair", "--backup"])
def test_a_journal_of_another_log_is_not_taken_into_the_new_one(
    run: Run, small: Path, new: Path, option: str
) -> None:
    new.with_name(f"{new.name}-wal").write_bytes(b"of another log")
    result = run("log", option, str(new), "--log", str(small))
    assert (result.exit_code, "would be taken for a part of it" in result.stderr) == (3, True)
    assert not new.exists()


@pytest.mark.parametrize(
    "arguments",
    [["--check", "--backup", "b"], ["--repair", "r", "--csv"], ["--check", "--pattern", "3"]],
)
def test_they_are_about_the_whole_log(run: Run, small: Path, arguments: list[str]) -> None:
    result = run("log", "--log", str(small), *arguments)
    assert (result.exit_code, "about the whole log" in result.stderr) == (2, True)


def test_before_the_first_practice(run: Run, path: Path, new: Path) -> None:
    checked = run("log", "--check", "--log", str(path))
    assert (checked.exit_code, "Nothing has been practised yet." in checked.stdout) == (0, True)
    for option in ("--backup", "--repair"):
        result = run("log", option, str(new), "--log", str(path))
        assert (result.exit_code, "There is no practice log" in result.stderr) == (3, True)
    assert not path.exists()
    assert not new.exists()


# ---- Backups


def test_a_backup_in_the_middle_of_a_practice(run: Run, small: Path, new: Path) -> None:
    with PracticeLog.open(small) as log:
        log.mark(1, "drop")  # which is in the journal only
        result = run("log", "--backup", str(new), "--log", str(small), "--json")
        assert (result.exit_code, result.stderr) == (0, "")
        assert json.loads(result.stdout)["rows"] == dict.fromkeys(TABLES, 1) | {"marks": 2}
        log.mark(1, "clean")
    assert {each.name for each in new.parent.iterdir() if each.is_file()} == {new.name}
    assert check_log(new).whole
    assert len(rows_of(small)) == len(rows_of(new)) + 1
    with PracticeLog.open(new) as log:
        assert log.mark(1, "drop") == "drop"


def test_a_damaged_log_is_not_backed_up(run: Run, damaged: Path, new: Path) -> None:
    damaged.write_bytes(overwritten(3 * PAGE, PAGE)(damaged.read_bytes()))
    result = run("log", "--backup", str(new), "--log", str(damaged))
    assert result.exit_code == 3
    assert result.stderr.startswith(f"The practice log {damaged} is damaged. `throwcount log --rep")
    assert not new.exists()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
@pytest.mark.parametrize("arguments", [["--check"], ["--backup", "b"], ["--repair", "r"]])
def test_a_pipe_is_not_waited_for(run: Run, tmp_path: Path, arguments: list[str]) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    result = run("log", "--log", str(pipe), *arguments)
    assert (result.exit_code, "a pipe, not a file" in result.stderr) == (3, True)
