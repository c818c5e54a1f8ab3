"""A lead-up as a routine: it can be planned and played, and holds every step in order."""

import json
import tomllib
from collections.abc import Callable
from itertools import groupby, pairwise
from pathlib import Path

import pytest
from click.testing import Result

from throwcount.caller.commands.leadup import routine_lines
from throwcount.caller.routine_file.reading import RoutineFile, read_routine
from throwcount.engine.patterns.rules import read
from throwcount.engine.patterns.states import start
from throwcount.engine.routines.layout import lay_out
from throwcount.engine.routines.routine import PatternPart, RestPart, Routine
from throwcount.engine.routines.routine_run import run_parts
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.search.leadups import lead_up, plain_pattern
from throwcount.engine.timing.run import Run as EngineRun

Run = Callable[..., Result]

TARGETS = ["1", "3", "4", "51", "531", "744", "97531", "(4,2x)*", "(4,4)", "(8,4)", "[33]33"]


def written(folder: Path, target: str) -> RoutineFile:
    pattern = read(target)
    place = folder / "up.toml"
    place.write_text("".join(routine_lines(pattern, lead_up(pattern))), "utf-8")
    return read_routine(place)


@pytest.mark.parametrize("target", TARGETS)
def test_it_has_every_step_with_a_rest_between(tmp_path: Path, target: str) -> None:
    routine = written(tmp_path, target).routine
    steps = lead_up(read(target))
    stretches = between_rests(routine)
    assert sum(isinstance(part, RestPart) for part in routine.parts) == len(steps) - 1
    for step, stretch in zip(steps, stretches, strict=True):
        assert {part.pattern.objects for part in stretch} == {step.pattern.objects}
        thrown = {part.pattern for part in stretch}
        if step.excursion:
            assert thrown == {step.excursion.plain, step.excursion.cycle}
        else:
            assert thrown == {step.pattern}


@pytest.mark.parametrize("target", TARGETS)
def test_each_step_lasts_for_its_catches_and_hardly_more(tmp_path: Path, target: str) -> None:
    laid = lay_out(written(tmp_path, target).routine)
    steps = iter(lead_up(read(target)))
    for rest, parts in groupby(laid.parts, key=lambda each: isinstance(each.part, RestPart)):
        if not rest:
            step = next(steps)
            beats = sum(each.beats + (each.joining.beats if each.joining else 0) for each in parts)
            rounds = beats / step.pattern.period
            caught = sum(not throw.held for _, throw in step.pattern.throws())
            # An excursion ends in the plain pattern.
            assert -(-step.catches // caught) <= rounds < step.catches / caught + 2


def between_rests(routine: Routine) -> list[list[PatternPart]]:
    stretches: list[list[PatternPart]] = [[]]
    for part in routine.parts:
        if isinstance(part, PatternPart):
            stretches[-1].append(part)
        else:
            stretches.append([])
    return stretches


@pytest.mark.parametrize("target", TARGETS)
def test_it_can_be_played_to_the_last_catch(tmp_path: Path, target: str) -> None:
    routine = written(tmp_path, target).routine
    laid = lay_out(routine)
    run = EngineRun(tuple(part for _, part in run_parts(laid)), laid.tempo, first=routine.first)
    beats = list(schedule(run))
    assert beats[-1].part in {"run-out", target}
    for before, after in pairwise(beats):
        assert after.beat == before.beat + 1
    named = {name for beat in beats for name in (*beat.objects.right, *beat.objects.left)}
    assert len(named) == read(target).objects


def test_throws_lead_out_of_the_plain_pattern_and_back() -> None:
    target = read("51")
    parts = tomllib.loads("".join(routine_lines(target, lead_up(target))))["part"]
    first = next(number for number, part in enumerate(parts) if part.get("pattern") == "3")
    plain, out, back, rest = parts[first : first + 4]
    assert [part.get("pattern") for part in (plain, out, back, rest)] == ["3", "51", "3", None]
    # By common practice the way into the shower is a 4, and the way out of it a 2.
    assert (plain.get("bridge"), out["bridge"], back["bridge"]) == (None, "4", "2")


@pytest.mark.parametrize(
    ("like", "expected"),
    [
        ("744", "5"),
        ("a", "a"),
        ("(4,2x)*", None),
        ("(8,0)", "(4,4)"),
        ("[43]1", "4"),
        ("[zz]", None),
    ],
)
def test_the_plain_pattern_is_in_the_ground_state(like: str, expected: str | None) -> None:
    plain = plain_pattern(read(like))
    assert (plain and plain.text) == expected
    if plain:
        hands = start(plain).values()
        assert max(hands) - min(hands) <= 1


def test_the_command_writes_it_and_plan_takes_it(run: Run, tmp_path: Path) -> None:
    place = tmp_path / "up.toml"
    result = run("leadup", "531", "--routine", place)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith(run("leadup", "531").stdout)
    assert f"Wrote {place}" in result.stdout.replace("\n", " ")
    steps = json.loads(run("leadup", "531", "--json").stdout)["steps"]
    text = place.read_text("utf-8").replace("\n# ", " ")
    for number, step in enumerate(steps, 1):
        assert f"Step {number}, {step['goal']}: {step['catches']} catches." in text
        assert step["why"] in text
    planned = run("plan", place, "--json")
    assert planned.exit_code == 0
    document = json.loads(planned.stdout)
    assert document["title"] == "Up to 531"
    assert document["entries"][-1]["title"] == "531"
    assert document["concerns"] == []


def test_it_is_not_overwritten_without_force(run: Run, tmp_path: Path) -> None:
    place = tmp_path / "up.toml"
    place.write_text("mine", "utf-8")
    refused = run("leadup", "531", "--routine", place)
    assert (refused.exit_code, refused.stdout) == (3, "")
    assert place.read_text("utf-8") == "mine"
    forced = run("leadup", "531", "--routine", place, "--force", "--json")
    assert json.loads(forced.stdout)["routine"] == str(place)
    assert read_routine(place).title == "Up to 531"


def test_nothing_is_written_for_a_wrong_target(run: Run, tmp_path: Path) -> None:
    assert run("leadup", "543", "--routine", tmp_path / "up.toml").exit_code == 1
    assert not list(tmp_path.iterdir())
