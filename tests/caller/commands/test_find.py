"""`find`: the JSON that others script against, lines that stream, and what ends early."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st
from waiting import LIMIT, wait_until

from caller.main import throwcount

Run = Callable[..., Result]

THREE = ["--objects", "3", "--max", "5", "--period", "3"]
HUGE = ["--objects", "17", "--max", "35", "--period", "60"]

OPTIONS = [
    (THREE, ["423", "441", "450", "522", "531"]),
    ([*THREE, "--with", "4", "--without", "0"], ["423", "441"]),
    ([*THREE, "--with", "4", "--with", "2"], ["423"]),
    ([*THREE, "--prime", "--limit", "2"], None),
    ([*THREE, "--symmetric"], ["423", "441", "450", "522", "531"]),
    ([*THREE, "--one-sided"], []),
    (["--objects", "3", "--max", "5", "--period", "1-2"], ["3", "42", "51"]),
    (["--objects", "3", "--max", "5", "--period", "2,1"], ["3", "42", "51"]),
    (["--objects", "3", "--max", "5", "--period", "2", "--ground"], ["42"]),
    (["--objects", "3", "--max", "5", "--period", "2", "--rotations"], ["42", "24", "51", "15"]),
    (["--objects", "11", "--max", "11", "--period", "1"], ["b"]),
    (
        ["--objects", "3", "--max", "5", "--period", "2", "--sync"],
        ["(2,4)", "(2x,4x)", "(4,2)", "(4x,2x)"],
    ),
    (
        ["--objects", "3", "--max", "4", "--period", "4", "--sync", "--symmetric"],
        ["(4,2x)*", "(4x,2)*"],
    ),
    (
        ["--objects", "4", "--max", "3", "--period", "2", "--multiplex", "2"],
        ["[21][32]", "[32]3", "[33][11]"],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("arguments", "patterns"), OPTIONS, ids=repr)
def test_list_and_json(run: Run, arguments: list[str], patterns: list[str] | None) -> None:
    lines = run("find", *arguments)
    document = run("find", *arguments, "--json")
    assert (lines.exit_code, document.exit_code, document.stderr) == (0, 0, "")
    found = json.loads(document.stdout)
    assert list(found) == ["patterns", "count"]
    assert found["patterns"] == lines.stdout.splitlines()
    assert found["count"] == len(found["patterns"])
    if patterns is None:
        assert found["count"] == 2
    else:
        assert sorted(found["patterns"]) == sorted(patterns)
    counted = run("find", *arguments, "--count-only")
    assert (counted.exit_code, counted.stdout) == (0, f"{found['count']}\n")
    counted = run("find", *arguments, "--count-only", "--json")
    assert json.loads(counted.stdout) == {"patterns": [], "count": found["count"]}


def test_best(run: Run) -> None:
    result = run("find", "--objects", "3", "--max", "5", "--period", "2-5", "--best", "4")
    assert (result.exit_code, result.stderr) == (0, "")
    page = result.stdout.splitlines()
    assert page[0].split() == ["pattern", "worth", "busy", "whole", "varied", "near"]
    assert page[1].split() == ["531", *["1.00"] * 5]
    assert len([line for line in page[1:] if line[:1].isdigit()]) == 4
    as_json = run(
        "find", "--objects", "3", "--max", "5", "--period", "2-5", "--best", "4", "--json"
    )
    document = json.loads(as_json.stdout)
    assert (document["patterns"][0], document["count"]) == ("531", 4)


@pytest.mark.parametrize(
    ("arguments", "fragment"),
    [
        (["--objects", "3", "--max", "2", "--period", "3"], "throws of at least 3"),
        (["--objects", "3", "--max", "3", "--period", "3", "--sync"], "go up to 2"),
        (["--objects", "3", "--max", "6", "--period", "3", "--sync"], "the period is even"),
        ([*THREE, "--with", "9"], "No pattern fits"),
        ([*THREE, "--with", "9", "--best", "2"], "No pattern fits"),
    ],
)
def test_nothing_found(run: Run, arguments: list[str], fragment: str) -> None:
    result = run("find", *arguments)
    assert (result.exit_code, result.stdout) == (0, "")
    assert fragment in result.stderr


@pytest.mark.parametrize(
    ("arguments", "fragment"),
    [
        ([], "A search takes --objects, --max and --period"),
        (["--objects", "3", "--max", "5"], "A search takes"),
        ([*THREE[:4], "--period", "x"], "no period"),
        ([*THREE[:4], "--period", "5-3"], "from 1 to 200"),
        ([*THREE[:4], "--period", "0"], "from 1 to 200"),
        ([*THREE[:4], "--period", "99999999999"], "no period"),
        ([*THREE, "--with", "36"], "no throw value"),
        ([*THREE, "--with", "\N{ARABIC-INDIC DIGIT THREE}"], "no throw value"),
        ([*THREE, "--best", "3", "--count-only"], "--best ranks patterns"),
        (["--words", "-", "--sync"], "--words takes words as they stand"),
        (["--words", "/no/such/file"], "does not exist"),
        ([*THREE, "--multiplex", "9"], "range"),
    ],
)
def test_wrong_command_lines(run: Run, arguments: list[str], fragment: str) -> None:
    result = run("find", *arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert fragment in " ".join(result.stderr.split())


def test_a_list_without_end_begins_and_says_so(run: Run) -> None:
    result = run("find", *HUGE, "--limit", "3")
    assert (result.exit_code, len(result.stdout.splitlines()), result.stderr) == (0, 3, "")
    ready = subprocess.Popen(
        [sys.executable, "-m", "caller", "find", *HUGE],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert ready.stdout is not None
    assert len(ready.stdout.readline().strip()) == 60
    ready.stdout.close()
    _, stderr = ready.communicate(timeout=LIMIT)
    assert ready.returncode == 0
    assert "which no one waits for" in stderr


@pytest.mark.parametrize("option", [["--count-only"], ["--best", "3"]])
def test_what_cannot_end_is_refused(run: Run, option: list[str]) -> None:
    result = run("find", *HUGE, *option)
    assert (result.exit_code, result.stdout) == (1, "")
    assert "which no one waits for" in result.stderr
    document = run("find", *HUGE, *option, "--json")
    assert (document.exit_code, document.stderr) == (1, "")
    assert "which no one waits for" in json.loads(document.stdout)["message"]


def test_counts_that_need_no_search(run: Run) -> None:
    result = run("find", "--objects", "4", "--max", "8", "--period", "60", "--count-only")
    assert (result.exit_code, len(result.stdout.strip())) == (0, 33)


@pytest.mark.parametrize("flags", [[], ["--json"]])
def test_ctrl_c_keeps_what_was_found(tmp_path: Path, flags: list[str]) -> None:
    found = tmp_path / "found"
    with found.open("w") as output:
        search = subprocess.Popen(
            [sys.executable, "-m", "caller", "find", *HUGE, *flags],
            stdout=output,
            stderr=subprocess.DEVNULL,
            env=os.environ | {"PYTHONUNBUFFERED": ""},
        )
        wait_until(lambda: found.stat().st_size >= 10_000 or search.poll() is not None)
        assert search.poll() is None
        search.send_signal(signal.SIGINT)
        assert search.wait(timeout=LIMIT) == 130
    text = found.read_text()
    patterns = text.splitlines()
    if flags:
        document = json.loads(text)
        patterns = document["patterns"]
        assert document["count"] == len(patterns)
    assert len(patterns) > 100
    assert {len(pattern) for pattern in patterns} == {60}


WORDS = "Add the bad tea to\nthe GREEN beef, add 531.\n"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], ["add", "the"]),
        (["--objects", "20"], ["the"]),
        (["--max", "d"], None),
        (["--max", "13"], ["add"]),
        (["--with", "e"], ["the"]),
        (["--without", "14"], ["add"]),
        (["--period", "2"], []),
        (["--limit", "1"], ["add"]),
    ],
)
def test_words(run: Run, tmp_path: Path, arguments: list[str], words: list[str] | None) -> None:
    text = tmp_path / "text"
    text.write_text(WORDS)
    result = run("find", "--words", str(text), *arguments)
    if words is None:
        assert result.exit_code == 2
        return
    assert (result.exit_code, result.stdout.splitlines()) == (0, words)
    assert bool(result.stderr) == (not words)
    document = json.loads(run("find", "--words", str(text), *arguments, "--json").stdout)
    assert document == {"patterns": words, "count": len(words)}
    counted = run("find", "--words", str(text), *arguments, "--count-only")
    assert counted.stdout == f"{len(words)}\n"


@settings(max_examples=150)
@given(
    st.lists(
        st.sampled_from(["--objects", "--max", "--period", "--with", "--without", "--limit"])
        | st.sampled_from(
            ["--prime", "--ground", "--sync", "--json", "--count-only", "--symmetric"]
        )
        | st.integers(-1, 6).map(str)
        | st.text(max_size=4),
        max_size=8,
    )
)
def test_any_arguments_end_in_a_status(arguments: list[str]) -> None:
    complete = ["--objects", "3", "--max", "5", "--period", "3", "--limit", "50", *arguments]
    for given_arguments in (arguments, complete):
        result = CliRunner().invoke(throwcount, ["find", *given_arguments])
        assert result.exit_code in {0, 1, 2}, result.output
        assert isinstance(result.exception, SystemExit | None)
        assert "Traceback" not in result.output


@given(st.binary(max_size=300))
@settings(max_examples=100)
def test_any_file_of_words(content: bytes) -> None:
    result = CliRunner().invoke(throwcount, ["find", "--words", "-", "--json"], input=content)
    assert result.exit_code == 0
    assert json.loads(result.stdout)["count"] >= 0


@pytest.mark.parametrize("columns", ["40", "80"])
def test_the_table_fits(monkeypatch: pytest.MonkeyPatch, columns: str) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    arguments = ["find", "--objects", "4", "--max", "7", "--period", "3-6", "--best", "20"]
    result = CliRunner().invoke(throwcount, arguments)
    assert max(map(len, result.stdout.splitlines())) <= int(columns)
    assert "…" not in result.stdout
