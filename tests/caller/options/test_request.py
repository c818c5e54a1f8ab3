"""The request that becomes of what was typed."""

import subprocess
import sys
from dataclasses import fields
from pathlib import Path

import click
import pytest

from throwcount.caller.commands.play import play_command as play
from throwcount.caller.options.request import READY_IN_A_FILE, READY_LIVE, Request
from throwcount.caller.pieces.routine import filled_from
from throwcount.caller.routine_file.reading import RoutineFile
from throwcount.caller.terminal.controls import DROP, GO, PEDAL
from throwcount.engine.patterns.rules import read
from throwcount.engine.routines.routine import Length, PatternPart, Routine

HEAVY = ("numpy", "rich", "pydantic", "sqlite3", "soundfile")


def asked(arguments: str = "", *, live: bool = True) -> Request:
    with play.make_context("play", ["531", *arguments.split()]) as ctx:
        return Request.of(ctx, live=live)


def test_what_is_not_asked_for_is_as_the_program_has_it() -> None:
    given = asked()
    usual = Request(subject="531", ready=READY_LIVE, log_file=given.log_file, typed=given.typed)
    assert given == usual
    assert asked(live=False).ready == READY_IN_A_FILE
    assert asked("--ready 3").ready == 3
    assert asked("--ready 0").ready == 0


def test_what_is_asked_for_is_in_the_units_of_the_run() -> None:
    request = asked("--speaker-delay 250 --unmarked nothing --word 2=hold --first left")
    assert request.speaker_delay == 0.25
    assert request.unmarked is None
    assert request.word == {"2": "hold"}
    options = {"speaker_delay", "unmarked", "word", "first"}
    assert request.typed - asked().typed == options


def test_pedals_mean_the_same_however_sets_are_counted() -> None:
    for typed in ("", "--unmarked clean"):
        keys = asked(typed).keys
        assert (keys["page-down"], keys["page-up"]) == (GO, DROP)
    keys = asked("--one-pedal").keys
    assert (keys["page-down"], keys["page-up"]) == (PEDAL, PEDAL)


@pytest.mark.parametrize(
    ("typed", "attempts", "rest", "goal"),
    [
        ("", True, 8.0, None),
        ("--cycles 9", True, 8.0, None),
        ("--attempts 3 --goal flash", True, 8.0, "flash"),
        ("--attempts 3 --rest 30 --goal 50", True, 30.0, 50),
        ("--attempts 3 --goal 0100000", True, 8.0, 100_000),
        ("--sets 3", False, 20.0, None),
        ("--staircase", False, 20.0, None),
    ],
)
def test_attempts_have_shorter_rests_than_sets(
    typed: str, attempts: bool, rest: float, goal: object
) -> None:
    request = asked(typed)
    assert (request.of_attempts, request.rest_seconds, request.goal) == (attempts, rest, goal)


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("--attempts 3 --sets 2", "--attempts and --sets are two ways to practise"),
        ("--attempts 3 --staircase", "--attempts and --staircase are two ways"),
        ("--goal 5 --sets 2", "--goal is for attempts"),
        ("--goal-times 2", "add --goal"),
        ("--goal qualfy", "Did you mean 'qualify'"),
        ("--goal 0", "a number of catches from 1 to 100,000"),
        ("--goal 2.5", "no goal"),
        ("--goal 100001", "no goal"),
        (f"--goal {'9' * 5_000}", "no goal"),
    ],
)
def test_attempts_that_cannot_be(typed: str, message: str) -> None:
    with pytest.raises(click.UsageError, match=message):
        asked(typed)


@pytest.mark.parametrize(
    ("arguments", "total"),
    [
        ("", 1),
        ("--sets 4", 4),
        ("--attempts 4", 4),
        ("--sets 4 --rounds 3", 12),
        ("--staircase", None),
        ("--staircase --sets 1", 1),
    ],
)
def test_how_many_sets_there_are(arguments: str, total: int | None) -> None:
    request = asked(arguments)
    assert request.total_sets == total
    assert request.single == (total == 1)


@pytest.mark.parametrize(
    ("arguments", "fragment"),
    [
        ("--cycles 1 --beats 2", "--cycles and --beats"),
        ("--staircase --raise 5", "--staircase lets the marks"),
        ("--back", "add --raise"),
        ("--rounds 2", "--sets N"),
    ],
)
def test_requests_that_contradict_themselves(arguments: str, fragment: str) -> None:
    with pytest.raises(click.UsageError, match=fragment):
        asked(arguments)


def walk(**given: object) -> RoutineFile:
    part = PatternPart(pattern=read("3"), length=Length(cycles=4))
    routine = Routine(title="a walk", tempo=120.0, parts=(part,), ready=5.0)
    return RoutineFile(path=Path("walk.toml"), routine=routine, places=("1",), **given)


def test_a_routine_fills_in_what_was_not_typed() -> None:
    file = walk(say="hands", count_in=6, ceiling=2.5, props="clubs", voice_level=3.0)
    filled = filled_from(asked("--say nothing --voice-level 0"), file)
    assert (filled.say, filled.voice_level) == ("nothing", 0.0)
    assert (filled.count_in, filled.ceiling, filled.props, filled.ready) == (6, 2.5, "clubs", 5.0)
    assert filled_from(asked("--props balls"), file).props == "balls"


@pytest.mark.parametrize("name", ["announce", "speak_rests", "milestones", "stop_word"])
@pytest.mark.parametrize("wanted", [True, False])
def test_what_is_said_besides_throws_is_filled_in_unless_typed(name: str, wanted: bool) -> None:
    file = walk(**{name: wanted})
    assert getattr(filled_from(asked(""), file), name) is wanted
    typed = f"--{'no-' if wanted else ''}{name.replace('_', '-')}"
    assert getattr(filled_from(asked(typed), file), name) is not wanted


def test_what_a_routine_says_itself_cannot_be_typed() -> None:
    with pytest.raises(click.UsageError, match="--tempo is for a single pattern"):
        filled_from(asked("--tempo 99"), walk())


def test_every_option_of_a_run_has_its_place() -> None:
    """Those of keys are turned into a map of them; the others have their own name."""
    names = {each.name for each in fields(Request)}
    exposed = {param.name for param in play.params if param.expose_value}
    assert exposed - names == {"key", "one_pedal"}


def test_it_is_quick_to_load() -> None:
    program = "import sys, throwcount.caller.options.request; print(*sys.modules)"
    loaded = subprocess.run(
        (sys.executable, "-c", program), capture_output=True, text=True, check=True
    ).stdout.split()
    assert "throwcount.caller.options.request" in loaded
    assert not set(HEAVY) & set(loaded)
