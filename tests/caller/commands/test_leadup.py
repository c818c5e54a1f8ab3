"""`leadup`: the JSON that others script against, the page, and what it refuses."""

import json
import re
from collections.abc import Callable

import pytest
from click.testing import Result

from throwcount.engine.patterns.flight import Room, default_tempo
from throwcount.engine.patterns.rules import read

Run = Callable[..., Result]

TEMPO = default_tempo(read("5"))


def test_json(run: Run) -> None:
    result = run("leadup", "51", "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    document = json.loads(result.stdout)
    assert list(document) == ["target", "objects", "steps"]
    assert (document["target"], document["objects"]) == ("51", 3)
    *_, once, _, _, _, _, _, _, last = document["steps"]
    assert (once["kind"], once["pattern"], once["throws"]) == (
        "once",
        "333333451512",
        "333333 4 5151 2",
    )
    assert last.pop("difficulty") >= once["difficulty"]
    assert last == {
        "pattern": "51",
        "objects": 3,
        "kind": "target",
        "goal": "run",
        "catches": 100,
        "tempo": default_tempo(read("51")),
        "why": "The target itself, for long.",
        "throws": "51",
        "start": {"right": 1, "left": 2},
    }


@pytest.mark.parametrize("target", ["7", "97531", "1", "(4,2x)*", "[33]33"])
def test_json_keeps_the_order_of_difficulty_after_rounding(run: Run, target: str) -> None:
    steps = json.loads(run("leadup", target, "--json").stdout)["steps"]
    points = [step["difficulty"] for step in steps]
    assert points == sorted(points)


@pytest.mark.parametrize(
    ("target", "given", "told"),
    [("7", None, 6), ("97531", None, 5), ("(4,4)", None, 3), ("7", 3, 3), ("531", 99, 99)],
)
def test_the_objects_that_a_juggler_has(
    run: Run, target: str, given: int | None, told: int
) -> None:
    options = [] if given is None else ["--from-objects", str(given)]
    assert json.loads(run("leadup", target, "--json", *options).stdout)["objects"] == told


def test_it_begins_with_fewer_objects_where_the_juggler_has_fewer(run: Run) -> None:
    def fewest(has: int) -> int:
        document = json.loads(run("leadup", "7", "--json", "--from-objects", str(has)).stdout)
        return min(step["objects"] for step in document["steps"])

    assert [fewest(has) for has in (3, 6, 7)] == [3, 4, 4]


@pytest.mark.parametrize(
    ("arguments", "fragments"),
    [
        (
            ["5"],
            [
                "steps to 5, for a juggler who has 4 objects.",
                "step pattern objects goal tempo why",
                f"55550 4 flash 4 {TEMPO} 4 times the 5 in a row, then a qualify 8 rest until",
                "Stay with a goal until it comes several times in a row",
            ],
        ),
        (["51"], ["3333 4 51 2", "Begin with 1 in the right hand, 2 in the left."]),
        (["51"], ["The other side of 51"]),
        (["97531", "--from-objects", "4"], ["The plain 5 has to run before the target is thrown"]),
        (["1"], ["1-4 1 1 flash 1 150 The target itself."]),
    ],
)
def test_what_the_page_says(run: Run, arguments: list[str], fragments: list[str]) -> None:
    result = run("leadup", *arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    page = " ".join(result.stdout.split())
    for fragment in fragments:
        assert fragment in page
    assert max(map(len, result.stdout.splitlines())) <= 80


def test_every_throw_stays_under_the_ceiling(run: Run) -> None:
    steps = json.loads(run("leadup", "5", "--json", "--ceiling", "2").stdout)["steps"]
    room = Room(2.0)
    for step in steps:
        for _, throw in read(step["pattern"]).throws():
            assert (room.height(throw, step["tempo"]) or 0.0) <= 1.0


def test_each_pattern_has_one_row(run: Run) -> None:
    steps = json.loads(run("leadup", "7", "--json").stdout)["steps"]
    page = run("leadup", "7").stdout
    numbers = re.findall(r"^(\d+)-(\d+) ", page, re.MULTILINE)
    assert len(numbers) == len({step["pattern"] for step in steps})
    assert int(numbers[-1][1]) == len(steps)


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
