"""`throwcount leadup`: the steps up to a throw or a pattern that is not yet mastered.

Each step has a goal and a reason. The steps can also be written as a routine, with rests between,
or as a session of attempts at each goal.
"""

from collections.abc import Iterator
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import Any, Final

import click
from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.commands.shared import reporting_wrong_input
from throwcount.caller.options.arguments import (
    FILE,
    PatternCommand,
    WholeRange,
    ceiling_option,
    dwell_option,
    hands_option,
    json_option,
    option,
)
from throwcount.caller.options.settings import settings_option
from throwcount.caller.options.settings_model import comment
from throwcount.caller.pictures.sheet import force_option
from throwcount.caller.routine_file.starter import toml_lines
from throwcount.caller.session_file.writing import WrittenBlock, session_text
from throwcount.caller.terminal.printing import shortened, show, show_json, table, tell
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.flight import Room, default_tempo
from throwcount.engine.patterns.pattern import Pattern, written_turn
from throwcount.engine.patterns.rules import read
from throwcount.engine.patterns.states import start
from throwcount.engine.practice.goals import goal_catches
from throwcount.engine.search.leadups import Excursion, Step, lead_up, usual_objects
from throwcount.sounds.files.whole_files import check_free, write_text

NUMBERS: Final = ("objects", "tempo")
GOALS_TOLD: Final = (
    "Flash: every object is thrown and caught once. Qualify: twice. Run: so many catches. Stay "
    "with a goal until it comes several times in a row, then take the next; if it does not come, "
    "go back a step. The steps get harder by a measure of what the hands have to do, which knows "
    "nothing of you."
)


def leadup_document(target: Pattern, steps: tuple[Step, ...], has: int) -> dict[str, Any]:
    """Return a lead-up to `target` for JSON; `has` is how many objects the juggler has."""
    return {
        "target": target.text,
        "objects": has,
        "steps": [
            {
                "pattern": step.pattern.text,
                "objects": step.pattern.objects,
                "kind": step.kind,
                "goal": step.goal,
                "catches": step.catches,
                "tempo": step.tempo,
                "why": step.why,
                "throws": _throws(step),
                "difficulty": round(step.difficulty, 2),
                "start": start(step.pattern),
            }
            for step in steps
        ],
    }


def leadup_page(target: Pattern, steps: tuple[Step, ...], has: int) -> Iterator[RenderableType]:
    """Yield the parts of the page, from top to bottom; see `leadup_document`."""
    yield Text(
        f"{counted(len(steps), 'step')} to {shortened(target.text)}, for a juggler who has "
        f"{counted(has, 'object')}.",
        "bold",
    )
    yield Text()
    yield _steps_table(steps)
    yield Text()
    yield Text(GOALS_TOLD, "dim")
    plain = next((step.excursion.plain for step in steps if step.excursion), None)
    if plain and has < plain.objects:
        yield Text(f"The plain {plain.text} has to run before the target is thrown out of it.")


def _steps_table(steps: tuple[Step, ...]) -> Table:
    """Return a table with a row for each pattern and all of its goals."""
    shown = table("step", "pattern", "objects", "goal", "tempo", "why", numbers=NUMBERS)
    shown.columns[1].overflow = "fold"
    number = 1
    for _, same in groupby(steps, key=lambda step: step.pattern):
        goals = list(same)
        step = goals[0]
        last = number + len(goals) - 1
        shown.add_row(
            str(number) if last == number else f"{number}-{last}",
            shortened(_throws(step)),
            str(step.pattern.objects),
            "\n".join(f"{each.goal} {each.catches}" for each in goals),
            f"{step.tempo:g}",
            f"{step.why}{_begun(step.pattern)}",
        )
        number = last + 1
    return shown


def _throws(step: Step) -> str:
    """Return the throws in notation; a space stands where the plain pattern is left or begun."""
    return step.excursion.text if step.excursion else step.pattern.text


def _begun(pattern: Pattern) -> str:
    """Return a sentence about the hands before the first throw if they do not share as usual."""
    hands = start(pattern)
    if hands["right"] - hands["left"] in {0, 1}:
        return ""
    return f" Begin with {hands['right']} in the right hand, {hands['left']} in the left."


SHORT_REST: Final = 10
"""Seconds of rest before the next goal of a pattern."""

LONG_REST: Final = 20
"""Seconds of rest before the next pattern."""


def routine_lines(target: Pattern, steps: tuple[Step, ...]) -> Iterator[str]:
    """Yield the pieces of a routine file, each pattern with its reason as a comment."""
    tempo = steps[0].tempo
    short: dict[str, Any] = {}
    yield comment(
        f"{counted(len(steps), 'step')} to {target.text}, as `throwcount leadup` lays them out. "
        "Change the lengths, the rests and the tempos as you like."
    )
    yield from toml_lines({"title": f"Up to {shortened(target.text)}", "tempo": tempo})
    for number, step in enumerate(steps):
        parts = _parts(step)
        if step.tempo != tempo:
            parts[0]["tempo"] = tempo = step.tempo
        again = number > 0 and step.pattern == steps[number - 1].pattern
        if number:
            rest = {"rest": True, "seconds": SHORT_REST if again else LONG_REST}
            yield from toml_lines({"part": [rest | short]})
        # What ends after a second or two leaves no time to announce the rest.
        short = {} if step.goal == "run" and not step.excursion else {"cue": ""}
        told = f"Step {number + 1}, {step.goal}: {step.catches} catch{'es' * (step.catches > 1)}."
        why = "" if number and step.why == steps[number - 1].why else f" {step.why}"
        yield f"\n{comment(told + why)}{''.join(toml_lines({'part': parts})).lstrip()}"


def _parts(step: Step) -> list[dict[str, Any]]:
    """Return the parts of a step: as many rounds as it takes for its catches."""
    caught = step.pattern.caught_in(step.pattern.period)
    rounds = -(-step.catches // max(caught, 1))
    if step.excursion is None:
        last = {"last-one": True} if step.goal == "run" else {}
        return [{"pattern": step.pattern.text, "cycles": rounds} | last]
    return list(_rounds(step.excursion, rounds))


def _rounds(out: Excursion, rounds: int) -> Iterator[dict[str, Any]]:
    """Yield the plain pattern and the target in turn; the changes are too quick for a cue."""
    kind = out.plain.kind
    ways = [" ".join(written_turn(kind, turn) for turn in way) for way in (out.way_in, out.way_out)]
    into, back = ({"bridge": way} if way else {} for way in ways)
    plain = {"pattern": out.plain.text, "cycles": out.plain_turns}
    target = {"pattern": out.cycle.text, "cycles": out.times, "cue": ""} | into
    yield plain
    for _ in range(rounds):
        yield target
        yield plain | {"cue": ""} | back


ATTEMPTS: Final = 10
"""Attempts at a goal, at most."""

GOAL_TIMES: Final = 3
"""How often a goal is to be met before the next."""

EASY: Final = "3"
EASY_SECONDS: Final = 60
WELL_DONE: Final = "well done"


def leadup_session(target: Pattern, steps: tuple[Step, ...]) -> str:
    """Return a session file with attempts at each goal in order, and something easy at the end."""
    blocks = list(_blocks(steps))
    easy = EASY if target.objects >= int(EASY) else steps[0].pattern.text
    blocks.append(
        WrittenBlock(
            told="The end: something easy.",
            pattern=easy,
            name="easy end",
            seconds=EASY_SECONDS,
        )
    )
    told = (
        f"{counted(len(steps), 'step')} to {shortened(target.text)}, as `throwcount leadup` lays "
        f"them out, each with up to {ATTEMPTS} attempts, and done when its goal was met "
        f"{GOAL_TIMES} times. Take out what comes by itself, and stay with what does not: these "
        "steps are for more than one day."
    )
    return session_text(f"Up to {shortened(target.text)}", blocks, end=WELL_DONE, told=told)


def _blocks(steps: tuple[Step, ...]) -> Iterator[WrittenBlock]:
    for number, (step, following) in enumerate(zip(steps, (*steps[1:], None), strict=True)):
        named = None if step.goal == "run" else step.goal
        usual = named is not None and goal_catches(named, step.pattern.objects) == step.catches
        again = following is not None and following.pattern == step.pattern
        fresh = not number or step.why != steps[number - 1].why
        yield WrittenBlock(
            told=f"Step {number + 1}. {step.why}" if fresh else f"Step {number + 1}.",
            pattern=step.pattern.text,
            name=step.excursion.text if step.excursion else None,
            tempo=step.tempo,
            attempts=ATTEMPTS,
            goal=named if usual else step.catches,
            goal_times=GOAL_TIMES,
            rest=SHORT_REST,
            rest_after=SHORT_REST if again else LONG_REST,
        )


EPILOG: Final = """\
\b
Examples:
  throwcount leadup 7
  throwcount leadup 744 --from-objects 4
  throwcount leadup "(4,2x)*" --json
  throwcount leadup 7 --routine seven.toml
  throwcount leadup 7 --session seven.toml
"""


@click.command("leadup", cls=PatternCommand, epilog=EPILOG, context_settings=HELP_OPTIONS)
@click.argument("target")
@option(
    "--from-objects N",
    WholeRange(min=1),
    "You have N objects: you run the plain pattern of N.  [default: as many as TARGET has, and one "
    "fewer if TARGET is plain itself]",
    name="has",
)
@option("--routine FILE", FILE, "Write the steps as a routine too: see `throwcount plan`.")
@option("--session FILE", FILE, "Write them as a session of attempts too, for `throwcount play`.")
@dwell_option
@ceiling_option
@hands_option
@force_option
@settings_option
@json_option
def leadup_command(  # noqa: PLR0913, PLR0917 - click gives every option as an argument of its own
    target: str,
    has: int | None,
    routine: Path | None,
    session: Path | None,
    dwell: float,
    ceiling: float | None,
    hands: float,
    force: bool,
    as_json: bool,
) -> None:
    """Lay out the steps to a throw or a pattern.

    TARGET is a pattern. Its highest throw comes with gaps between and among easier throws; then
    the target comes once, and twice, out of the plain pattern, and in the end without end. A
    sister with one object fewer gives the rhythm, and a one-sided pattern is thrown on both sides.
    Each step has a goal in catches and a tempo.
    """
    if routine is not None and session is not None and routine.resolve() == session.resolve():
        raise click.UsageError(f"--routine and --session both name {routine}; each needs its own.")
    with reporting_wrong_input(target):
        known = read(target)
        handled = has or usual_objects(known)
        steps = lead_up(known, handled, partial(default_tempo, room=Room(ceiling, hands, dwell)))
    named = {"routine": routine, "session": session}
    written = {name: path for name, path in named.items() if path is not None}
    for path in written.values():
        check_free(path, overwrite=force)
    for name, path in written.items():
        lines = [leadup_session(known, steps)] if name == "session" else routine_lines(known, steps)
        write_text(path, lines, overwrite=force)
    if as_json:
        files = {name: str(path) for name, path in written.items()}
        show_json(leadup_document(known, steps, handled) | files)
        return
    show(*leadup_page(known, steps, handled))
    for path in written.values():
        show("")
        tell(f"Wrote {path}: `throwcount plan {path}` lays it out, and `play` plays it.")
