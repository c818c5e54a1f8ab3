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

from throwcount.caller.main import throwcount

Run = Callable[..., Result]

ARROW = re.compile('    "([01]+)" -> "([01]+)" \\[label="([0-9a-z])"\\];')


@pytest.mark.parametrize(("objects", "highest"), [(1, 1), (3, 6), (4, 7), (2, 12), (5, 9)])
def test_sizes(run: Run, objects: int, highest: int) -> None:
    states = comb(highest, objects)
    throws = comb(highest - 1, objects - 1) * (highest - objects + 1) + comb(highest - 1, objects)
    asked = ["states", str(objects), "--highest", str(highest)]
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
    result = run("states", "2", "--highest", "3")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.splitlines()[:6] == [
        "2 objects, throws up to 3: 3 states and 5 throws between them.",
        "",
        "state   way   throws",
        "110*      0   2→110 3→101",
        "101       1   1→110 3→011",
        "011       2   0→110",
    ]
    document = json.loads(run("states", "2", "--highest", "3", "--json").stdout)
    assert document["states"][1] == {
        "state": [1, 0, 1],
        "ground": False,
        "from_ground": 1,
        "throws": [{"value": 1, "leads_to": [1, 1]}, {"value": 3, "leads_to": [0, 1, 1]}],
    }


def test_a_picture_is_drawn_beside_the_table(run: Run, tmp_path: Path) -> None:
    asked = ["states", "4", "--highest", "6"]
    place = tmp_path / "states.svg"
    drawn = run(*asked, "--picture", place)
    assert (drawn.exit_code, drawn.stdout) == (0, run(*asked).stdout)
    assert "15 states of 4 objects, throws up to 6" in place.read_text("utf-8")
    before = place.read_bytes()
    assert run(*asked, "--picture", place).exit_code == 3
    assert run(*asked, "--picture", place, "--force").exit_code == 0
    assert place.read_bytes() == before


def test_dot_is_a_graph_in_its_language(run: Run) -> None:
    """Statements of the DOT grammar as Graphviz publishes it: a digraph, nodes and edges."""
    lines = run("states", "4", "--highest", "6", "--dot").stdout.splitlines()
    assert (lines[0], lines[-1]) == ("digraph states {", "}")
    statement = re.compile(r'    (label="[^"]*"|node \[\w+=\w+\]|"[01]+" \[\w+=\w+\]);')
    assert all(ARROW.fullmatch(line) or statement.fullmatch(line) for line in lines[1:-1])
    assert '    "111100" [peripheries=2];' in lines
    assert '    "111100" -> "111010" [label="5"];' in lines


def test_open_throws(run: Run) -> None:
    result = run("states", "--from", "11011", "--highest", "7")
    assert result.exit_code == 0
    assert [" ".join(line.split()) for line in result.stdout.splitlines()] == [
        "From 1101100, 4 objects, throws up to 7:",
        "",
        "throw open leads to, or why not",
        "0 no an object is due on this beat and has to be thrown",
        "1 no it would meet the object that is already due 1 beat from now",
        "2 yes 1111000",
        "3 no it would meet the object that is already due 3 beats from now",
        "4 no it would meet the object that is already due 4 beats from now",
        "5 yes 1011100",
        "6 yes 1011010",
        "7 yes 1011001",
    ]
    document = json.loads(run("states", "--from", "0110", "--highest", "4", "--json").stdout)
    assert document["state"] == [0, 1, 1]
    assert document["throws"][0] == {
        "value": 0, "open": True, "leads_to": [1, 1], "why_not": None
    }  # fmt: skip
    assert all("nothing is due" in throw["why_not"] for throw in document["throws"][1:])


def test_hands_that_throw_together(run: Run) -> None:
    result = run("states", "3", "--highest", "4", "--together")
    assert (result.exit_code, result.stderr) == (0, "")
    page = result.stdout.splitlines()
    assert page[0] == "3 objects, throws up to 4: 4 states and 16 throws between them."
    assert page[-7:-5] == [
        "(11,01)      1   (4,0)→(11,10) (4x,0)→(10,11)",
        "(01,11)      1   (0,4)→(10,11) (0,4x)→(11,10)",
    ]
    assert "the left hand stands before the right" in " ".join(page).replace("  ", " ")
    document = json.loads(run("states", "3", "--highest", "4", "--together", "--json").stdout)
    assert document["states"][2] == {
        "state": [[1, 0, 1], [0, 0, 1]],
        "ground": False,
        "from_ground": 1,
        "throws": [
            {"throw": "(4,0)", "leads_to": [[1, 0, 1], [1]]},
            {"throw": "(4x,0)", "leads_to": [[1], [1, 0, 1]]},
        ],
    }
    lines = run("states", "3", "--highest", "4", "--together", "--dot").stdout.splitlines()
    assert '    "(11,01)" -> "(10,11)" [label="(4x,0)"];' in lines
    assert sum("peripheries=2" in line for line in lines) == 2


def test_states_of_pairs_are_as_check_has_them(run: Run) -> None:
    """Each pattern is a way through the graph, so that its own state is one of the states."""
    document = json.loads(run("states", "4", "--highest", "6", "--together", "--json").stdout)
    states = [state["state"] for state in document["states"]]
    found = json.loads(run("find", "4", "--highest", "6", "--together", "--json").stdout)
    for pattern in found["patterns"]:
        assert json.loads(run("check", pattern, "--json").stdout)["state"] in states


def test_several_from_one_hand(run: Run) -> None:
    result = run("states", "2", "--highest", "2", "--from-one-hand", "2")
    assert result.stdout.splitlines()[2:6] == [
        "state   way   throws",
        "20        1   [11]→20 [21]→11 [22]→02",
        "11*       0   1→20 2→11",
        "02        2   0→20",
    ]
    full = run("states", "8", "--highest", "4", "--from-one-hand", "2")
    assert "2222      -   [44]→2222" in full.stdout.splitlines()
    document = json.loads(
        run("states", "8", "--highest", "4", "--from-one-hand", "2", "--json").stdout
    )
    assert document["states"][0]["from_ground"] is None


def test_open_throws_of_both_hands(run: Run) -> None:
    for written in ("(11,01)", "11,01", "( 11 , 01 )"):
        result = run("states", "--from", written, "--highest", "4", "--together")
        lines = [" ".join(line.split()) for line in result.stdout.splitlines()]
        assert lines[:7] == [
            "From (11,01), 3 objects, throws up to 4:",
            "",
            "throw open leads to, or why not",
            "(4,0) yes (11,10)",
            "(4x,0) yes (10,11)",
            "left 0 no an object is due on this beat and has to be thrown",
            "left 2 no it would meet the object that is already due 2 beats from now",
        ]
    asked = ["--from", "12", "--highest", "2", "--from-one-hand", "2"]
    assert "it would meet the 2 objects that are already due 1 beat" in " ".join(
        run("states", *asked).stdout.split()
    )
    document = json.loads(run("states", *asked, "--json").stdout)
    assert [throw["throw"] for throw in document["throws"]] == ["2", "0", "1"]
    assert [throw["open"] for throw in document["throws"]] == [True, False, False]


@pytest.mark.parametrize(
    ("arguments", "status", "fragment"),
    [
        (["12", "--highest", "30"], 1, "86,493,225 states"),
        (["12", "--highest", "30", "--dot"], 1, "86,493,225 states"),
        (["5", "--highest", "4"], 1, "throws of at least 5"),
        (["--from", "120", "--highest", "4"], 1, "a row of 1 and 0"),
        (["--from", "", "--highest", "4"], 1, "a row of 1 and 0"),
        (["--from", "10001", "--highest", "4"], 1, "a throw of at most 4"),
        (["3", "--from", "11", "--highest", "4"], 1, "2 objects, and not 3"),
        (["--from", "1" * 5000, "--highest", "4"], 1, "a throw of at most 4"),
        (["--from", "12", "--highest", "4", "--together"], 1, "such as (11,01), of digits up to 1"),
        (["--from", "(1,2)", "--highest", "4", "--together"], 1, "of digits up to 1"),
        (["--from", "(1,1,1)", "--highest", "4", "--together"], 1, "is two rows"),
        (["--from", "(1,)", "--highest", "4", "--together"], 1, "is two rows"),
        (["--from", "(1,001)", "--highest", "5", "--together"], 1, "due 4 beats after the next"),
        (["--from", "31", "--highest", "4", "--from-one-hand", "2"], 1, "digits up to 2"),
        (
            ["--from", "44,44", "--highest", "34", "--together", "--from-one-hand", "4"],
            1,
            "4,361,942,025 ways to throw from this state, and at most 200,000 are listed",
        ),
        (["9", "--highest", "4", "--from-one-hand", "2"], 1, "throws of at least 5"),
        (["5", "--highest", "5", "--together"], 1, "these go up to 4"),
        (["12", "--highest", "30", "--together"], 1, "86,493,225 states"),
        (["-3", "--highest", "4"], 2, "-3 is not in the range 1<=x<=35"),
        (["36", "--highest", "4"], 2, "36 is not in the range 1<=x<=35"),
        (["4", "--highest", "36"], 2, "36 is not in the range 1<=x<=35"),
        (["4", "--highest", "4", "--from-one-hand", "5"], 2, "5 is not in the range 1<=x<=4"),
        (["--objects", "4", "--highest", "7"], 2, "No such option '--objects'"),
        (["4", "--max", "7"], 2, "No such option '--max'"),
        (["--highest", "4"], 2, "Which states?"),
        (["3"], 2, "--highest"),
        (["4", "--highest", "6", "--dot", "--json"], 2, "--dot is a format of its own"),
        (["--from", "11", "--highest", "4", "--picture", "a.svg"], 2, "--picture draws all states"),
        (["4", "--highest", "6", "--picture", "states.doc"], 2, ".svg or .png"),
        (["4", "--highest", "9", "--picture", "a.svg"], 1, "126 states"),
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


@settings(max_examples=150)
@given(
    st.text(max_size=8) | st.text("01", max_size=8) | st.text("(012,)", max_size=8),
    st.integers(-1, 7),
    st.lists(st.sampled_from(["--together", "--from-one-hand=2", "--json"]), max_size=3),
)
def test_any_state_ends_in_status_0_1_or_2(state: str, highest: int, more: list[str]) -> None:
    asked = ["states", "--from", state, "--highest", str(highest), *more]
    result = CliRunner().invoke(throwcount, asked)
    assert result.exit_code in {0, 1, 2}, result.output
    assert isinstance(result.exception, SystemExit | None)


@pytest.mark.parametrize("columns", ["40", "80"])
def test_the_table_fits(monkeypatch: pytest.MonkeyPatch, columns: str) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    for arguments in (
        ["4", "--highest", "9"],
        ["--from", "0101", "--highest", "6"],
        ["4", "--highest", "8", "--together"],
        ["--from", "(11,2)", "--highest", "6", "--together", "--from-one-hand", "2"],
    ):
        result = CliRunner().invoke(throwcount, ["states", *arguments])
        assert max(map(len, result.stdout.splitlines())) <= int(columns)
