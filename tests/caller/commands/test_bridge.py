"""`bridge`: the JSON that others script against, the page, and why there is none.

That 4 leads from the three-object cascade into 51 and 2 back is common practice.
"""

import json
import re
from collections.abc import Callable
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.caller.main import throwcount

Run = Callable[..., Result]


def facts(  # noqa: PLR0913 - one argument a field of the contract
    leaving: str,
    entering: str,
    throws: str | None,
    objects: int,
    *,
    rotations: tuple[int, int] = (0, 0),
    first_hand: str | None = "right",
    hands: str = "",
    change: tuple[str, str, int] | None = None,
    to_hand: str | None = None,
) -> dict[str, Any]:
    """Return what is expected; `throws` is None for a bridge between two timings."""
    one_timing = {
        "from": leaving,
        "to": entering,
        "throws": None if throws is None else throws.split(),
        "objects": objects,
        "from_rotation": rotations[0],
        "to_rotation": rotations[1],
        "first_hand": first_hand,
        "beats": [beat_of(number, told) for number, told in enumerate(hands.split())],
    }
    if change is None:
        return one_timing
    told = dict(zip(("hand", "how", "beat"), change, strict=True))
    return {**one_timing, "change": told, "to_hand": to_hand}


def beat_of(number: int, told: str) -> dict[str, Any]:
    """Return a beat from what right and left throw in it, such as ``4|``, ``6|4x`` or ``|``."""
    right, left = told.split("|")
    hands = {"right": right, "left": left}
    return {
        "beat": number,
        **{hand: re.findall("[0-9]x?", throws) for hand, throws in hands.items()},
    }


CASES = [
    (["3", "51"], facts("3", "51", "4", 3, hands="4|")),
    (["51", "3"], facts("51", "3", "2", 3, hands="2|")),
    (["5 1", "GROUND"], facts("51", "GROUND", "2", 3, hands="2|")),
    (["ground", "51"], facts("GROUND", "51", "4", 3, hands="4|")),
    (["531", "441"], facts("531", "441", "", 3)),
    (["3", "51", "--first", "left"], facts("3", "51", "4", 3, first_hand="left", hands="|4")),
    (["15", "51"], facts("15", "51", "1", 3, hands="1|")),
    (["15", "51", "--any-rotation"], facts("15", "51", "", 3, rotations=(1, 0), first_hand="left")),
    (["3", "15", "--any-rotation"], facts("3", "15", "4", 3, rotations=(0, 1), hands="4|")),
    (["40", "2"], facts("40", "2", "1", 2, hands="1|")),
    (["60", "3"], facts("60", "3", "3 0", 3, hands="3| |0")),
    (
        ["(4,4)", "(6x,2x)"],
        facts("(4,4)", "(6x,2x)", "(6x,4)", 4, first_hand=None, hands="4|6x |"),
    ),
    (
        ["(8,0)", "(4,4)"],
        facts("(8,0)", "(4,4)", "(4x,0) (4x,0)", 4, first_hand=None, hands="0|4x | 0|4x |"),
    ),
    (["4", "[33]33"], facts("4", "[33]33", "1", 4, hands="1|")),
    (["[33]33", "4"], facts("[33]33", "4", "[43]", 4, hands="43|")),
    (
        ["3", "(4x,2x)"],
        facts("3", "(4x,2x)", None, 3, hands="4| |1", change=("left", "wait", 2)),
    ),
    (
        ["4", "(4,4)", "--first", "left"],
        facts(
            *("4", "(4,4)", None, 4),
            first_hand="left",
            hands="|3 4| |3",
            change=("left", "hurry", 3),
        ),
    ),
    (
        ["(4,4)", "4"],
        facts(
            *("(4,4)", "4", None, 4),
            first_hand=None,
            hands="4|3 | 4|3",
            change=("left", "hurry", 3),
            to_hand="left",
        ),
    ),
    (
        ["(0,4)", "40"],
        facts(
            *("(0,4)", "40", None, 2), first_hand=None, change=("left", "wait", 1), to_hand="right"
        ),
    ),
]


@pytest.mark.parametrize(("arguments", "expected"), CASES, ids=repr)
def test_json(run: Run, arguments: list[str], expected: dict[str, Any]) -> None:
    result = run("bridge", *arguments, "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    assert json.loads(result.stdout) == expected
    assert list(json.loads(result.stdout)) == list(expected)


def test_all(run: Run) -> None:
    lines = run("bridge", "(4,4)", "(6x,2x)", "--all")
    assert (lines.exit_code, lines.stdout) == (0, "(6x,4)\n(4x,6)\n")
    document = json.loads(run("bridge", "(4,4)", "(6x,2x)", "--all", "--json").stdout)
    assert (document["from"], document["to"], document["count"]) == ("(4,4)", "(6x,2x)", 2)
    assert not document["more"]
    assert [one["throws"] for one in document["bridges"]] == [["(6x,4)"], ["(4x,6)"]]


def test_all_of_very_many_are_limited(run: Run) -> None:
    told = "There are more than {} bridges; --limit sets how many are listed.\n"
    for ends, asked, listed in (
        (("9", "i0"), ("--limit", "5"), 5),
        (("y", "(y,y)"), (), 100),  # of 65,536
    ):
        result = run("bridge", *ends, "--all", *asked)
        assert (result.exit_code, len(result.stdout.splitlines())) == (0, listed)
        assert result.stderr == told.format(listed)
        document = json.loads(run("bridge", *ends, "--all", *asked, "--json").stdout)
        assert (document["count"], document["more"]) == (listed, True)


def test_one_bridge_is_one(run: Run) -> None:
    result = run("bridge", "9", "i0", "--all", "--limit", "1")
    told = "There is more than 1 bridge; --limit sets how many are listed.\n"
    assert result.stderr == told


def test_where_the_patterns_are_left_and_entered_is_named(run: Run) -> None:
    result = run("bridge", "53", "71", "--any-rotation", "--all")
    assert result.stdout == "from   to   throws\n   1    0   6\n"


@pytest.mark.parametrize(
    ("arguments", "lines"),
    [
        (
            ["3", "51"],
            [
                "From 3 to 51 with 3 objects: 1 throw, 4.",
                "",
                "throws  3 | 4 | 5 1",
                "hands   L | R | L R",
            ],
        ),
        (
            ["53", "71", "--any-rotation"],
            [
                "From 53 to 71 with 4 objects: 1 throw, 6.",
                "",
                "throws  5 3 5 | 6 | 7 1",
                "hands   R L R | L | R L",
                "",
                "53 is left 1 beat into a repetition.",
            ],
        ),
        (
            ["(4x,2x)", "(2x,4x)"],
            [
                "From (4x,2x) to (2x,4x) with 3 objects: 1 pair, (4,2x).",
                "",
                "throws  (4x,2x) | (4,2x) | (2x,4x)",
            ],
        ),
        (
            ["3", "(4x,2x)"],
            [
                "From 3 to (4x,2x) with 3 objects: 2 beats, 4 1.",
                "",
                "beat    -1 | 0 1 | 2  3",
                "right      | 4   | 2x",
                "left    3  |   1 | 4x",
                "",
                "The left hand waits: what it has on beat 1, it throws on beat 2. In a bridge",
            ],
        ),
        (
            ["(4,4)", "4", "--all"],
            ["(3,4) (3,4)   left hurries", "(4,3) (4,3)   right hurries"],
        ),
    ],
)
def test_page(run: Run, arguments: list[str], lines: list[str]) -> None:
    result = run("bridge", *arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.splitlines()[: len(lines)] == lines


@pytest.mark.parametrize(
    ("arguments", "fragment"),
    [
        (
            ["3", "5"],
            "has 3 objects and the second 5, and no bridge changes the number",
        ),
        (["97531", "3"], "2 objects have to be put down on the way"),
        (["3", "51", "--highest", "3"], "keeps to throws of at most 3"),
        (["GROUND", "ground"], "name a pattern at one end"),
        (["4", "(4,4)", "--highest", "3"], "at most 3; throws up to 4 would do"),
        (["543", "3"], "meet"),
        (["3", "54"], "mean"),
        (["3", ""], "no pattern here"),
        (["-1", "3"], "cannot be negative"),
    ],
)
def test_no_bridge(run: Run, arguments: list[str], fragment: str) -> None:
    result = run("bridge", *arguments)
    assert (result.exit_code, result.stdout) == (1, "")
    assert fragment in " ".join(result.stderr.split())
    document = run("bridge", *arguments, "--json")
    assert (document.exit_code, document.stderr) == (1, "")
    assert fragment in json.loads(document.stdout)["message"]


LIKELY = st.text("0123456789abz[](),x* -+.", max_size=8)
WRITTEN = st.lists(
    st.sampled_from(["3", "51", "531", "[33]33", "(4,4)", "(2x,4x)", "*", "GROUND", "b1", "0"]),
    max_size=3,
).map("".join)
TEXTS = st.text(max_size=10) | LIKELY | WRITTEN


@settings(max_examples=400)
@given(TEXTS, TEXTS, st.lists(st.sampled_from(["--json", "--all", "--any-rotation"]), max_size=2))
def test_any_texts_end_in_status_0_1_or_2(leaving: str, entering: str, flags: list[str]) -> None:
    result = CliRunner().invoke(throwcount, ["bridge", *flags, "--limit", "9", leaving, entering])
    assert result.exit_code in {0, 1, 2}, result.output
    assert isinstance(result.exception, SystemExit | None)
    assert "Traceback" not in result.output
    if "--json" in flags and result.exit_code < 2 and "--help" not in {leaving, entering}:
        json.loads(result.stdout)


@pytest.mark.parametrize("columns", ["40", "80"])
@pytest.mark.parametrize(
    "ends", [("97531" * 20, "b97531"), ("9", "i0"), ("(8,2)(4,2x)(2x,4)", "(4,4)")]
)
def test_the_page_fits(
    monkeypatch: pytest.MonkeyPatch, columns: str, ends: tuple[str, str]
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    result = CliRunner().invoke(throwcount, ["bridge", *ends])
    assert result.exit_code in {0, 1}
    assert max(map(len, [*result.stdout.splitlines(), ""])) <= int(columns)
