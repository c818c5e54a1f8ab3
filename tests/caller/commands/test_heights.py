"""`heights`: the numbers of Shannon's theorem, the room, and the default tempo."""

import json
import math
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result
from shannon import HEIGHTS

from throwcount.engine.patterns.flight import GRAVITY
from throwcount.engine.patterns.rules import read

Run = Callable[..., Result]

CENTIMETRE = 0.01
# The figures are recomputed from the formula with g = 9.81.
TEXTBOOK_GRAVITY = 9.81


@pytest.mark.parametrize(("dwell", "value", "metres"), HEIGHTS)
def test_heights_by_shannons_theorem(run: Run, dwell: float, value: int, metres: float) -> None:
    result = run("heights", str(value), "--tempo", "240", "--dwell", str(dwell), "--json")
    (throw,) = json.loads(result.stdout)["throws"]
    assert throw["height_m"] * TEXTBOOK_GRAVITY / GRAVITY == pytest.approx(metres, abs=5e-5)
    assert throw["flight_s"] == pytest.approx((value - 2 * dwell) / 4)


@pytest.mark.parametrize(
    ("pattern", "values", "flying"),
    [
        ("531", [5, 3, 1], [5, 3]),
        ("40", [4, 0], [4]),
        ("423", [4, 3, 2], [4, 3]),
        ("(4x,2x)", [4, 2], [4, 2]),
        ("(4,2x)*", [4, 2], [4, 2]),
        ("(2,2)(2x,2x)", [2, 2], [2]),
        ("([44x],2)*", [4, 2], [4]),
        ("0", [0], []),
    ],
)
def test_each_kind_of_throw_once_and_null_where_nothing_flies(
    run: Run, pattern: str, values: list[int], flying: list[int]
) -> None:
    throws = json.loads(run("heights", pattern, "--json").stdout)["throws"]
    assert [throw["value"] for throw in throws] == values
    assert [throw["value"] for throw in throws if throw["height_m"] is not None] == flying
    assert all((throw["height_m"] is None) == (throw["flight_s"] is None) for throw in throws)


def test_json_fields_in_order(run: Run) -> None:
    document = json.loads(run("heights", "531", "--tempo", "200", "--json").stdout)
    assert list(document)[:4] == ["tempo", "dwell", "throws", "slowest_tempo"]
    assert list(document["throws"][0]) == ["value", "flight_s", "height_m"]
    assert (document["tempo"], document["slowest_tempo"]) == (200, None)
    assert document["dwell"] == 2 / 3


def test_at_the_slowest_tempo_the_highest_throw_just_reaches_the_ceiling(run: Run) -> None:
    room = ["--ceiling", "2.7", "--hands", "1.1"]
    slowest = json.loads(run("heights", "744", "--json", *room).stdout)["slowest_tempo"]
    again = run("heights", "744", "--json", *room, "--tempo", repr(slowest))
    assert json.loads(again.stdout)["throws"][0]["height_m"] == pytest.approx(2.7 - 1.1)


def test_what_is_told_as_enough_is_enough(run: Run) -> None:
    page = run("heights", "744", "--ceiling", "2.6").stdout
    told = float(page.partition("slowest tempo is")[2].split()[0])
    exact = json.loads(run("heights", "744", "--ceiling", "2.6", "--json").stdout)["slowest_tempo"]
    assert exact <= told < exact + 0.1
    assert math.isclose(told, 297.7)


@pytest.mark.parametrize(
    ("arguments", "fragments"),
    [
        (["531"], ["531 at 230 beats a minute: the highest throw, 5, then rises 1.12 m"]),
        (["531", "--tempo", "200"], ["531 at 200 beats a minute. Each hand throws 1.67 times"]),
        (["531", "--dwell", "0.7"], ["531 at 230 beats a minute: the", "5, then rises 1.08 m"]),
        (["423", "--tempo", "200"], ["2, held - -", "4 0.800 s 0.78 m"]),
        (["(2,2)(2x,2x)", "--tempo", "200"], ["2x 0.200 s 0.05 m"]),
        (["40"], ["0, empty hand - -"]),
        (["0", "--tempo", "200"], ["0 at 200 beats a minute. throw in the air"]),
        (
            ["5", "--tempo", "240", "--ceiling", "3"],
            ["5 0.917 s 1.03 m 2.03 m", "leave room above"],
        ),
        (["5", "--tempo", "200", "--ceiling", "3"], ["slowest tempo is 172.3 beats a minute."]),
        (["1", "--ceiling", "3"], ["every tempo will do, as nothing leaves the hands"]),
        (["3" * 500], ["333... at 185"]),
    ],
)
def test_what_the_page_says(run: Run, arguments: list[str], fragments: list[str]) -> None:
    result = run("heights", *arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    page = " ".join(result.stdout.split())
    for fragment in fragments:
        assert fragment in page


@pytest.mark.parametrize(
    ("arguments", "fragments"),
    [
        ("531", []),
        ("531 --tempo 150", []),
        ("531 --tempo 100", ["The 5 rises 5.93 m above the hands at 100 beats a minute: 141"]),
        ("531 --tempo 100 --ceiling 3", ["the ceiling is at 3 m: 173 beats a minute would do"]),
        ("531 --tempo 400", ["At 400 beats a minute"]),
        ("531 --tempo 400 --ceiling 1.3", ["the ceiling is at 1.3 m", "choose lower"]),
        ("e", ["The e rises 5.46 m above the hands at 360 beats a minute: only 486"]),
    ],
)
def test_warnings_go_to_standard_error_or_into_the_json(
    run: Run, arguments: str, fragments: list[str]
) -> None:
    result = run("heights", *arguments.split())
    told = " ".join(result.stderr.split())
    assert result.exit_code == 0
    assert told.count("Warning:") == len(fragments)
    as_json = run("heights", *arguments.split(), "--json")
    assert as_json.stderr == ""
    warnings = json.loads(as_json.stdout)["warnings"]
    assert len(warnings) == len(fragments)
    for fragment, warning in zip(fragments, warnings, strict=True):
        assert fragment in warning
        assert fragment in told


def test_the_caution_comes_once_and_only_with_a_ceiling(run: Run) -> None:
    assert "leave room above" not in run("heights", "5").stdout
    assert " ".join(run("heights", "5", "--ceiling", "9").stdout.split()).count("leave room") == 1


@pytest.mark.parametrize(
    ("arguments", "status", "fragment"),
    [
        (["531", "--ceiling", "1"], 1, "leaves no room above hands at 1 m"),
        (["531", "--ceiling", "2", "--hands", "2.5"], 1, "leaves no room"),
        (["54"], 1, "mean of 4.5"),
        (["-1"], 1, "cannot be negative"),
        (["531", "--tempo", "-1"], 2, "-1.0 is not in the range"),
        (["531", "--tempo", "nan"], 2, "nan is not a finite number"),
        (["531", "--dwell", "1"], 2, "not in the range 0<x<1"),
        (["531", "--ceiling", "inf"], 2, "inf is not in the range"),
        (["531", "--ceiling", "1e308"], 2, "1e+308 is not in the range 0.0<=x<=1000.0"),
        (["531", "--height", "1e308"], 2, "1e+308 is not in the range"),
    ],
)
def test_wrong_input_and_wrong_command_lines(
    run: Run, arguments: list[str], status: int, fragment: str
) -> None:
    result = run("heights", *arguments)
    assert (result.exit_code, result.stdout) == (status, "")
    assert fragment in result.stderr


def test_a_room_without_height_is_told_in_json_too(run: Run) -> None:
    result = run("heights", "531", "--ceiling", "1", "--json")
    assert (result.exit_code, result.stderr) == (1, "")
    assert json.loads(result.stdout)["message"].endswith("the ceiling the higher one.")


@pytest.mark.parametrize(
    ("settings", "typed", "told"),
    [
        ("ceiling = 0.8", [], "set the ceiling."),
        ("ceiling = 0.8\nhands = 0.9", [], "set the ceiling and the hands."),
        ("ceiling = 2\nhands = 1.5", ["--ceiling", "1.4"], "set the hands."),
        ("ceiling = 2", ["--ceiling", "0.9"], "the ceiling the higher one."),
    ],
)
def test_the_settings_are_named_where_they_leave_no_room(
    run: Run, tmp_path: Path, settings: str, typed: list[str], told: str
) -> None:
    mine, walk = tmp_path / "mine.toml", tmp_path / "walk.toml"
    mine.write_text(settings, "utf-8")
    walk.write_text('[[part]]\npattern = "3"\ncycles = 4\n', "utf-8")
    for command in (["heights", "531"], ["plan", str(walk)], ["render", "531", "-o", "out.wav"]):
        result = run(*command, *typed, "--settings", mine)
        assert (result.exit_code, result.stdout) == (1, "")
        assert result.stderr.strip().endswith(told)


@pytest.mark.parametrize("text", ["3", "5", "97531", "(4,2x)*", "744"])
@pytest.mark.parametrize("dwell", [0.5, 2 / 3, 0.75])
def test_shannon_theorem_holds_in_the_figures(run: Run, text: str, dwell: float) -> None:
    """(F + D) H = (V + D) N, with the mean flight F: Shannon's theorem, for two hands."""
    options = ("--tempo", "200", "--dwell", str(dwell), "--json")
    document = json.loads(run("heights", text, *options).stdout)
    full, empty = document["hand_full_s"], document["hand_empty_s"]
    pattern = read(text)
    # Flights come out of the throws' own rows; a throw too low to fly has a flight below zero.
    flights = [throw.value * 60 / 200 - full for _, throw in pattern.throws()]
    known = {row["value"]: row["flight_s"] for row in document["throws"]}
    for (_, throw), flight in zip(pattern.throws(), flights, strict=True):
        assert known[throw.value] is None or known[throw.value] == pytest.approx(flight)
    hands = 2 * len(flights) / pattern.period  # as every turn of a hand throws one object
    mean = sum(flights) / len(flights)
    assert (mean + full) * hands == pytest.approx((empty + full) * pattern.objects)
    assert document["hand_throws_per_second"] * (full + empty) == pytest.approx(1)


def test_the_tempo_for_a_height(run: Run) -> None:
    tempo = json.loads(run("heights", "744", "--height", "1.5", "--json").stdout)[
        "tempo_for_height"
    ]
    at_it = json.loads(run("heights", "744", "--tempo", str(tempo), "--json").stdout)
    assert at_it["throws"][0]["height_m"] == pytest.approx(1.5)
    assert f"1.5 m at {tempo:.1f} beats" in run("heights", "744", "--height", "1.5").stdout
    assert "No tempo" in run("heights", "2", "--height", "1.5").stdout
