"""`check`: the JSON that others script against, the page, and what is said of wrong patterns.

The expected facts follow by hand from the rules of the notation; that 51 is excited, 531 and
744 start from the ground state, and (4x,2x) is 51 in pairs, is common practice.
"""

import json
from collections.abc import Callable
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.caller.main import throwcount
from throwcount.engine.hands.difficulty import difficulty
from throwcount.engine.patterns.rules import read

Run = Callable[..., Result]


def facts(  # noqa: PLR0913 - one argument a field of the contract
    pattern: str,
    *,
    objects: int,
    period: int,
    highest: int,
    state: list[Any],
    start: tuple[int, int],
    orbits: list[tuple[int, list[int], str]],
    kind: str = "async",
    multiplex: bool = False,
    true_period: int | None = None,
    ground: bool = True,
    visits_ground: bool = True,
    prime: bool = True,
    swaps_hands: bool = False,
    name: str | None = None,
) -> dict[str, Any]:
    return {
        "pattern": pattern,
        "valid": True,
        "kind": kind,
        "multiplex": multiplex,
        "objects": objects,
        "period": period,
        "true_period": true_period or period,
        "highest": highest,
        "ground": ground,
        "visits_ground": visits_ground,
        "prime": prime,
        "state": state,
        "start": dict(zip(("right", "left"), start, strict=True)),
        "orbits": [
            {"objects": count, "beats": beats, "throws": throws.split()}
            for count, beats, throws in orbits
        ],
        "swaps_hands": swaps_hands,
        "difficulty": round(difficulty(read(pattern)).number, 3),
        "name": name,
    }


CAN_BE_THROWN = [
    facts(
        "531", objects=3, period=3, highest=5, state=[1, 1, 1], start=(2, 1), swaps_hands=True,
        orbits=[(2, [0, 2], "5 1"), (1, [1], "3")],
    ),
    facts(
        "3", objects=3, period=1, highest=3, state=[1, 1, 1], start=(2, 1), swaps_hands=True,
        name="3 cascade", orbits=[(3, [0], "3")],
    ),
    facts(
        "51", objects=3, period=2, highest=5, state=[1, 1, 0, 1], start=(1, 2), ground=False,
        visits_ground=False, name="3 shower", orbits=[(3, [0, 1], "5 1")],
    ),
    facts(
        "744", objects=5, period=3, highest=7, state=[1] * 5, start=(3, 2), swaps_hands=True,
        orbits=[(5, [0, 1, 2], "7 4 4")],
    ),
    facts(
        "3333", objects=3, period=4, true_period=1, highest=3, state=[1, 1, 1], start=(2, 1),
        prime=False, name="3 cascade", orbits=[(3, [0, 1, 2, 3], "3 3 3 3")],
    ),
    facts("0", objects=0, period=1, highest=0, state=[], start=(0, 0), orbits=[], swaps_hands=True),
    facts(
        "[33]33", objects=4, period=3, highest=3, state=[2, 1, 1], start=(3, 1), multiplex=True,
        ground=False, visits_ground=False, swaps_hands=True,
        orbits=[(1, [0], "3"), (1, [0], "3"), (1, [1], "3"), (1, [2], "3")],
    ),
    facts(
        "(4x,2x)", kind="sync", objects=3, period=2, highest=4, state=[[1], [1, 0, 1]],
        start=(2, 1), name="3 shower, both hands at once", orbits=[(3, [0, 0], "4x 2x")],
    ),
    facts(
        "(4,2x)*", kind="sync", objects=3, period=4, highest=4, state=[[1], [1, 0, 1]],
        start=(2, 1), name="3 box", orbits=[(1, [0], "4"), (1, [0, 2], "2x 2x"), (1, [2], "4")],
    ),
    facts(
        "([44x],2)*", kind="sync", objects=5, period=4, highest=4, state=[[2, 0, 1], [1, 0, 1]],
        start=(2, 3), multiplex=True, ground=False, visits_ground=False,
        orbits=[(1, [0], "4"), (3, [0, 0, 2, 2], "4x 2 2 4x"), (1, [2], "4")],
    ),
]  # fmt: skip


@pytest.mark.parametrize("expected", CAN_BE_THROWN, ids=lambda expected: expected["pattern"])
def test_json_of_a_pattern_that_can_be_thrown(run: Run, expected: dict[str, Any]) -> None:
    result = run("check", expected["pattern"], "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    assert json.loads(result.stdout) == expected


def test_json_keeps_the_order_of_the_contract(run: Run) -> None:
    assert list(json.loads(run("check", "531", "--json").stdout)) == list(CAN_BE_THROWN[0])


@pytest.mark.parametrize(
    ("written", "tidied"),
    [
        ("5 cascade", "5"),
        ("3-shower", "51"),
        ("box", "(4,2x)(2x,4)"),
        ("5 3 1", "531"),
        ("B1", "b1"),
        ("[3]", "3"),
        (" (4, 2X) * ", "(4,2x)*"),
    ],
)
def test_json_tidies_the_pattern(run: Run, written: str, tidied: str) -> None:
    assert json.loads(run("check", written, "--json").stdout)["pattern"] == tidied


@pytest.mark.parametrize(
    ("pattern", "first", "fragments"),
    [
        ("15", "right", ["name 3 shower", "as the right hand has them all and throws first"]),
        ("15", "left", ["as the left hand has them all"]),
        ("[33]33", "right", ["as a hand with several at once throws them first"]),
        ("51", "right", ["name 3 shower", "an excited state"]),
        ("(2x,4)(4,2x)", "right", ["name 3 box", "the ground state"]),
    ],
)
def test_the_page_names_a_pattern_and_tells_how_it_begins(
    run: Run, pattern: str, first: str, fragments: list[str]
) -> None:
    page = " ".join(run("check", pattern, "--first", first).stdout.split())
    for fragment in fragments:
        assert fragment in page
    assert ("excited" in page) == ("an excited state" in fragments)


@pytest.mark.parametrize("as_json", [(), ("--json",)])
def test_a_slip_and_a_name_without_a_pattern_are_asked_about(
    run: Run, as_json: tuple[str, ...]
) -> None:
    for text, question in (("4,2x", "Did you mean (4,2x)?"), ("5 fountain", "mean 5 cascade?")):
        result = run("check", text, *as_json)
        assert result.exit_code == 1
        assert question in (json.loads(result.stdout)["message"] if as_json else result.stderr)


@pytest.mark.parametrize(
    ("first", "start"), [("right", {"right": 1, "left": 2}), ("left", {"right": 2, "left": 1})]
)
def test_either_hand_may_begin(run: Run, first: str, start: dict[str, int]) -> None:
    result = run("check", "51", "--json", "--first", first)
    assert json.loads(result.stdout)["start"] == start


CANNOT_BE_THROWN = [
    ("54", "average", [0, 1], "mean of 4.5"),
    ("532", "average", [1, 2], "the 3 of beat 1 and the 2 of beat 2 meet on beat 4"),
    ("321", "collision", [0, 1, 2], "the 3 of beat 0, the 2 of beat 1 and the 1 of beat 2 meet"),
    ("543", "collision", [0, 1, 2], "on beat 5 in the left hand"),
    ("105", "collision", [0, 1], "where nothing is thrown"),
    ("(4,2x)(2,4)", "collision", [0, 2], "from the left hand"),
    ("53!", "malformed", [2], "means nothing in a pattern"),
    ("", "malformed", [], "There is no pattern here"),
    ("-1", "malformed", [0], "cannot be negative"),
    ("-", "malformed", [0], "cannot be negative"),
    ("3.5", "malformed", [1], "whole number"),
    ("(4,2x", "malformed", [0], "never closed"),
    ("(3,4)", "malformed", [1], "even"),
    ("[33", "malformed", [0], "never closed"),
    ("3" * 100_001, "malformed", [100_000], "100,001 characters"),
]


Wrong = tuple[str, str, list[int], str]


@pytest.mark.parametrize("case", CANNOT_BE_THROWN, ids=lambda case: case[0][:20])
@pytest.mark.parametrize("command", ["check", "heights"])
def test_json_of_a_wrong_pattern(run: Run, command: str, case: Wrong) -> None:
    pattern, problem, at, fragment = case
    result = run(command, pattern, "--json")
    assert (result.exit_code, result.stderr) == (1, "")
    document = json.loads(result.stdout)
    assert list(document) == ["pattern", "valid", "problem", "at", "message"]
    assert fragment in document.pop("message")
    assert document == {"pattern": pattern, "valid": False, "problem": problem, "at": at}


@pytest.mark.parametrize("case", CANNOT_BE_THROWN, ids=lambda case: case[0][:20])
def test_a_wrong_pattern_on_the_screen(run: Run, case: Wrong) -> None:
    pattern, _, _, fragment = case
    result = run("check", pattern)
    assert (result.exit_code, result.stdout) == (1, "")
    assert fragment in result.stderr.splitlines()[0]
    assert "Error" not in result.stderr


def test_a_mark_stands_under_the_place(run: Run) -> None:
    assert run("check", "53!1").stderr.splitlines()[1:] == ["", "  53!1", "    ^"]


def test_throws_that_meet_are_drawn(run: Run) -> None:
    assert run("check", "543").stderr.splitlines()[1:] == [
        "",
        "  beat   |0  1  2 |3  4  5",
        "  right   5     3     4",
        "  left       4     5     3",
        "  right   5──────────────X",
        "  left       4───────────X",
        "  right         3────────X",
    ]


def test_a_picture_of_a_meeting_that_is_too_far_off_is_left_out(run: Run) -> None:
    result = run("check", "z0")
    assert result.exit_code == 1
    assert len(result.stderr.splitlines()) == 1


@pytest.mark.parametrize(
    ("pattern", "lines"),
    [
        (
            "531",
            [
                "531 can be thrown with 3 objects.",
                "objects  3",
                "period   3 beats",
                "throws   one hand after the other",
                "highest  5",
                "start    right hand 2 (A C), left hand 1 (B); the right hand begins",
                "A C       0 2     5 1      R R",
                "B         1       3        L",
            ],
        ),
        (
            "(4,4)",
            [
                "(4,4) can be thrown with 4 objects.",
                "throws   both hands at once, on every second beat (synchronous)",
                "hands    they keep their parts in every repetition",
                "start    right hand 2 (B D), left hand 2 (A C); both hands begin",
                "A C       0       4        L",
                "B D       0       4        R",
            ],
        ),
        ("1", ["1 can be thrown with 1 object."]),
        ("00", ["00 can be thrown: it is a rest, without any object."]),
        ("66", ["period   2 beats as written; it repeats within itself after 1 beat"]),
    ],
)
def test_lines_of_the_page(run: Run, pattern: str, lines: list[str]) -> None:
    result = run("check", pattern)
    assert (result.exit_code, result.stderr) == (0, "")
    page = result.stdout.splitlines()
    assert page[0].startswith(f"{pattern} can be thrown")
    for line in lines:
        assert line in page


@pytest.mark.parametrize("pattern", ["531", "(4,2x)*", "[33]33", "2"])
def test_the_page_says_how_hard_it_is_and_why(run: Run, pattern: str) -> None:
    found = difficulty(read(pattern))
    page = " ".join(run("check", pattern).stdout.split())
    assert f"Difficulty {found.number:.1f} at {found.tempo:g} beats a minute" in page
    assert " ".join(found.reasons) in page


def test_the_longest_patterns_have_a_short_page(run: Run) -> None:
    result = run("check", "97531" * 2000)
    assert result.exit_code == 0
    assert len(result.stdout.splitlines()) <= 55
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert "the first 24 of 10,000 beats" in " ".join(result.stdout.split())


LIKELY = st.text("0123456789abz[](),x* -+.", max_size=12)
WRITTEN = st.lists(
    st.sampled_from(["3", "5", "1", "a", "[33]", "(4,4)", "(2x,4x)", "*", " ", "z", "0"]),
    max_size=8,
).map("".join)


@pytest.mark.parametrize("flags", [[], ["--json"]], ids=["page", "json"])
@settings(max_examples=300)
@given(text=st.one_of(st.text(), LIKELY, WRITTEN))
def test_any_text_ends_in_status_0_1_or_2(flags: list[str], text: str) -> None:
    result = CliRunner().invoke(throwcount, ["check", *flags, text])
    assert result.exit_code in {0, 1, 2}, result.output
    assert isinstance(result.exception, SystemExit | None)
    assert "Traceback" not in result.output
    if text in {"-h", "--help"} or result.exit_code == 2:
        return
    if flags:
        assert json.loads(result.stdout)["valid"] == (result.exit_code == 0)
        assert result.stderr == ""
    else:
        assert bool(result.stderr) == (result.exit_code == 1)
        assert bool(result.stdout) == (result.exit_code == 0)
