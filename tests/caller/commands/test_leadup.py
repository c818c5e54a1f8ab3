"""`leadup`: the JSON that others script against, the page, and what it refuses."""

import json
from collections.abc import Callable
from dataclasses import replace
from io import StringIO

import pytest
from click.testing import Result
from rich.console import Console

from throwcount.caller.commands.leadup import leadup_page
from throwcount.engine.hands.difficulty import difficulty
from throwcount.engine.patterns.rules import read
from throwcount.engine.search.leadups import lead_up

Run = Callable[..., Result]


def test_json(run: Run) -> None:
    result = run("leadup", "51", "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    document = json.loads(result.stdout)
    assert list(document) == ["target", "steps", "throw", "safe"]
    assert (document["target"], document["throw"], document["safe"]) == ("51", "5", 2)
    first, *_, last = document["steps"]
    assert list(first)[:3] == ["pattern", "objects", "why"]
    assert last.pop("why").startswith("The target itself.")
    assert last == {
        "pattern": "51",
        "objects": 3,
        "difficulty": round(difficulty(read("51")).number, 2),
        "preparation": False,
        "start": {"right": 1, "left": 2},
        "way_in": ["4"],
        "way_out": ["2"],
    }


@pytest.mark.parametrize("target", ["7", "97531", "1", "(4,2x)*", "[33]33"])
def test_json_keeps_the_order_of_difficulty_after_rounding(run: Run, target: str) -> None:
    steps = json.loads(run("leadup", target, "--json").stdout)["steps"]
    points = [step["difficulty"] for step in steps]
    assert points == sorted(points)
    assert all((step["pattern"] == "0") == step["preparation"] for step in steps)


def test_the_juggler_may_be_safe_with_fewer_objects(run: Run) -> None:
    def first(*arguments: str) -> int:
        step = json.loads(run("leadup", "7", "--json", *arguments).stdout)["steps"][0]
        return int(step["objects"])

    assert [first("--from-objects", str(safe)) for safe in (1, 2, 3, 5, 7, 99)] == [
        1,
        1,
        2,
        4,
        6,
        6,
    ]
    assert first() == first("--from-objects", "6") == 5


@pytest.mark.parametrize(
    ("arguments", "fragments"),
    [
        (
            ["3"],
            [
                "3 steps to 3 and its highest throw, the 3, for a juggler who is safe with 2 obj",
                "step pattern objects points why 1 300 1 ",
                "Get to know the 3 with 1 object",
                "Points put the steps in order of difficulty. They are a model",
            ],
        ),
        (["51"], ["From the plain pattern of 3 it takes 4. Back to the plain pattern: 2."]),
        (["[33]33"], ["it takes 1. Back to the plain pattern: [43]."]),
        (["[zz]"], ["No throws this low lead back to the plain pattern"]),
        (["1"], ["Preparation without objects"]),
    ],
)
def test_what_the_page_says(run: Run, arguments: list[str], fragments: list[str]) -> None:
    result = run("leadup", *arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    page = " ".join(result.stdout.split())
    for fragment in fragments:
        assert fragment in page
    assert max(map(len, result.stdout.splitlines())) <= 80


def test_where_nothing_leads_to_a_step_it_begins_from_the_hands() -> None:
    target = read("51")
    steps = tuple(replace(step, way_in=None) for step in lead_up(target))
    shown = StringIO()
    for part in leadup_page(target, steps, safe=2):
        Console(file=shown, width=80).print(part)
    told = "Begin with 1 in the right hand and 2 in the left: no throws this low lead there"
    assert told in " ".join(shown.getvalue().split())


@pytest.mark.parametrize("as_json", [False, True])
@pytest.mark.parametrize(
    ("target", "fragment"),
    [
        ("543", "meet"),
        ("54", "mean of 4.5"),
        ("5!", "means nothing"),
        ("-1", "cannot be negative"),
        ("0", "needs no lead-up"),
        ("3" * 41, "41 beats"),
    ],
)
def test_wrong_targets(run: Run, target: str, fragment: str, as_json: bool) -> None:
    result = run("leadup", target, *["--json"] * as_json)
    assert result.exit_code == 1
    told = json.loads(result.stdout)["message"] if as_json else result.stderr
    assert fragment in told
    assert result.stderr == "" if as_json else result.stdout == ""


@pytest.mark.parametrize("number", ["0", "-3", "two"])
def test_wrong_numbers_of_objects(run: Run, number: str) -> None:
    result = run("leadup", "7", "--from-objects", number)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "--from-objects" in result.stderr
