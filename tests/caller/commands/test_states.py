"""`states`: the table, JSON and DOT, and the throws from one state.

The graph has C(h, b) states and C(h-1, b-1)(h-b+1) + C(h-1, b) throws, by counting bits; the graph
itself is that of Chung & Graham, Primitive juggling sequences (2008).
"""

import json
import re
from collections.abc import Callable
from math import comb
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st

from caller.main import throwcount

Run = Callable[..., Result]

ARROW = re.compile('    "([01]+)" -> "([01]+)" \\[label="([0-9a-z])"\\];')


@pytest.mark.parametrize(("objects", "highest"), [(1, 1), (3, 6), (4, 7), (2, 12), (5, 9)])
def test_sizes(run: Run, objects: int, highest: int) -> None:
    states = comb(highest, objects)
    throws = comb(highest - 1, objects - 1) * (highest - objects + 1) + comb(highest - 1, objects)
    asked = ["states", "--objects", str(objects), "--max", str(highest)]
    document = json.loads(run(*asked, "--json").stdout)
    assert (document["objects"], document["max"], document["count"]) == (objects, highest, states)
    assert len(document["states"]) == states
    assert sum(len(state["throws"]) for state in document["states"]) == throws
    arrows = [line for line in run(*asked, "--dot").stdout.splitlines() if ARROW.fullmatch(line)]
    assert len(arrows) == len(set(arrows)) == throws
    page = run(*asked).stdout
    assert f"{states:,} state" in page.splitlines()[0]
    assert f"{throws:,} throw" in page.splitlines()[0]


def test_three_states(run: Run) -> None:
    result = run("states", "--objects", "2", "--max", "3")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.splitlines()[:6] == [
        "2 objects, throws up to 3: 3 states and 5 throws between them.",
        "",
        "state   way   throws",
        "110*      0   2→110 3→101",
        "101       1   1→110 3→011",
        "011       2   0→110",
    ]
    document = json.loads(run("states", "--objects", "2", "--max", "3", "--json").stdout)
    assert document["states"][1] == {
        "state": [1, 0, 1],
        "ground": False,
        "from_ground": 1,
        "throws": [{"value": 1, "leads_to": [1, 1]}, {"value": 3, "leads_to": [0, 1, 1]}],
    }


def test_a_picture_is_drawn_beside_the_table(run: Run, tmp_path: Path) -> None:
    asked = ["states", "--objects", "3", "--max", "5"]
    place = tmp_path / "states.svg"
    drawn = run(*asked, "--picture", place)
    assert (drawn.exit_code, drawn.stdout) == (0, run(*asked).stdout)
    assert "10 states of 3 objects, throws up to 5" in place.read_text("utf-8")
    before = place.read_bytes()
    assert run(*asked, "--picture", place).exit_code == 3
    assert run(*asked, "--picture", place, "--force").exit_code == 0
    assert place.read_bytes() == before


def test_dot_is_a_graph_in_its_language(run: Run) -> None:
    """Statements of the DOT grammar as Graphviz publishes it: a digraph, nodes and edges."""
    lines = run("states", "--objects", "3", "--max", "5", "--dot").stdout.splitlines()
    assert (lines[0], lines[-1]) == ("digraph states {", "}")
    statement = re.compile(r'    (label="[^"]*"|node \[\w+=\w+\]|"[01]+" \[\w+=\w+\]);')
    assert all(ARROW.fullmatch(line) or statement.fullmatch(line) for line in lines[1:-1])
    assert '    "11100" [peripheries=2];' in lines
    assert '    "11100" -> "11010" [label="4"];' in lines


def test_open_throws(run: Run) -> None:
    result = run("states", "--from", "1101", "--max", "5")
    assert result.exit_code == 0
    assert [" ".join(line.split()) for line in result.stdout.splitlines()] == [
        "From 11010, 3 objects, throws up to 5:",
        "",
        "throw open leads to, or why not",
        "0 no an object is due on this beat and has to be thrown",
        "1 no it would meet the object that is already due 1 beat from now",
        "2 yes 11100",
        "3 no it would meet the object that is already due 3 beats from now",
        "4 yes 10110",
        "5 yes 10101",
    ]
    document = json.loads(run("states", "--from", "0110", "--max", "4", "--json").stdout)
    assert document["state"] == [0, 1, 1]
    assert document["throws"][0] == {
        "value": 0, "open": True, "leads_to": [1, 1], "why_not": None
    }  # fmt: skip
    assert all("nothing is due" in throw["why_not"] for throw in document["throws"][1:])


@pytest.mark.parametrize(
    ("arguments", "status", "fragment"),
    [
        (["--objects", "12", "--max", "30"], 1, "86,493,225 states"),
        (["--objects", "12", "--max", "30", "--dot"], 1, "86,493,225 states"),
        (["--objects", "5", "--max", "4"], 1, "throws of at least 5"),
        (["--from", "120", "--max", "4"], 1, "a row of 1 and 0"),
        (["--from", "", "--max", "4"], 1, "a row of 1 and 0"),
        (["--from", "10001", "--max", "4"], 1, "a throw of at most 4"),
        (["--from", "11", "--objects", "3", "--max", "4"], 1, "--objects says 3"),
        (["--from", "1" * 5000, "--max", "4"], 1, "a throw of at most 4"),
        (["--max", "4"], 2, "Which states?"),
        (["--objects", "3"], 2, "--max"),
        (["--objects", "3", "--max", "5", "--dot", "--json"], 2, "--dot is a form of its own"),
        (["--from", "11", "--max", "4", "--picture", "a.svg"], 2, "--picture draws all states"),
        (["--objects", "3", "--max", "5", "--picture", "states.doc"], 2, ".svg or .png"),
        (["--objects", "4", "--max", "9", "--picture", "a.svg"], 1, "126 states"),
    ],
)
def test_what_is_wrong(run: Run, arguments: list[str], status: int, fragment: str) -> None:
    result = run("states", *arguments)
    assert (result.exit_code, result.stdout) == (status, "")
    assert fragment in " ".join(result.stderr.split())
    if status == 1 and "--dot" not in arguments and "30" not in arguments:
        document = run("states", *arguments, "--json")
        assert (document.exit_code, document.stderr) == (1, "")
        assert fragment in json.loads(document.stdout)["message"]


@settings(max_examples=100)
@given(st.text(max_size=8) | st.text("01", max_size=8), st.integers(-1, 9))
def test_any_state_ends_in_status_0_1_or_2(state: str, highest: int) -> None:
    result = CliRunner().invoke(throwcount, ["states", "--from", state, "--max", str(highest)])
    assert result.exit_code in {0, 1, 2}, result.output
    assert isinstance(result.exception, SystemExit | None)


@pytest.mark.parametrize("columns", ["40", "80"])
def test_the_table_fits(monkeypatch: pytest.MonkeyPatch, columns: str) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    for arguments in (["--objects", "4", "--max", "9"], ["--from", "0101", "--max", "6"]):
        result = CliRunner().invoke(throwcount, ["states", *arguments])
        assert max(map(len, result.stdout.splitlines())) <= int(columns)
