"""`throwcount leadup`: the steps up to a throw or a pattern that is not yet mastered.

Each step has its reason. The steps can also be written as a routine, with rests between them.
"""

from collections.abc import Iterator
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
    json_option,
    option,
)
from throwcount.caller.options.settings_model import comment
from throwcount.caller.pictures.sheet import force_option
from throwcount.caller.routine_file.starter import toml_lines
from throwcount.caller.terminal.printing import (
    counted,
    listed,
    shortened,
    show,
    show_json,
    table,
    tell,
)
from throwcount.engine.patterns.flight import default_tempo
from throwcount.engine.patterns.pattern import VALUE_DIGITS, Pattern
from throwcount.engine.patterns.rules import read
from throwcount.engine.patterns.states import start
from throwcount.engine.search.leadups import Step, lead_up, usual_safe
from throwcount.sounds.files.whole_files import write_text

NUMBERS: Final = ("objects", "points")
POINTS_TOLD: Final = (
    "Points put the steps in order of difficulty. They are a model, from the objects, the heights, "
    "the kinds of throw and the length of the pattern, and know nothing of you: stay with a step "
    "until it runs, go back when it does not."
)


def leadup_document(target: Pattern, steps: tuple[Step, ...], safe: int) -> dict[str, Any]:
    """Return a lead-up to `target` for JSON.

    `safe` is how many objects the juggler handles safely.
    """
    return {
        "target": target.text,
        "steps": [
            {
                "pattern": step.pattern.text,
                "objects": step.pattern.objects,
                "why": step.why,
                "difficulty": round(step.difficulty.number, 2),
                "preparation": step.preparation,
                "start": start(step.pattern),
                "way_in": step.way_in,
                "way_out": step.way_out,
            }
            for step in steps
        ],
        "throw": VALUE_DIGITS[target.highest],
        "safe": safe,
    }


def leadup_page(target: Pattern, steps: tuple[Step, ...], safe: int) -> Iterator[RenderableType]:
    """Yield the parts of the page, from top to bottom; see `leadup_document`."""
    yield Text(
        f"{counted(len(steps), 'step')} to {shortened(target.text)} and its highest throw, the "
        f"{VALUE_DIGITS[target.highest]}, for a juggler who is safe with "
        f"{counted(safe, 'object')}.",
        "bold",
    )
    yield Text()
    yield _steps_table(steps)
    yield Text()
    yield Text(POINTS_TOLD, "dim")


def _steps_table(steps: tuple[Step, ...]) -> Table:
    shown = table("step", "pattern", "objects", "points", "why", numbers=NUMBERS)
    shown.columns[1].overflow = "fold"
    for number, step in enumerate(steps, 1):
        points = f"{step.difficulty.number:.1f}"
        objects = str(step.pattern.objects)
        why = " ".join([step.why, *_picked_up(step)])
        shown.add_row(str(number), shortened(step.pattern.text), objects, points, why)
    return shown


def _picked_up(step: Step) -> Iterator[str]:
    """Yield how to get into and out of a step that does not begin in the ground state."""
    if step.way_in is None:
        hands = start(step.pattern)
        yield f"Begin with {hands['right']} in the right hand and {hands['left']} in the left: no "
        yield "throws this low lead there from the plain pattern."
    elif step.way_in:
        yield f"From the plain pattern of {step.pattern.objects} it takes {listed(step.way_in)}."
    if step.way_out is None:
        yield "No throws this low lead back to the plain pattern: end by catching what comes down."
    elif step.way_out:
        yield f"Back to the plain pattern: {listed(step.way_out)}."


STEP_SECONDS: Final = 25.0
"""Seconds of a step, about."""

FEWEST_CYCLES: Final = 4
REST_SECONDS: Final = 20
PLAIN_BEATS: Final = 16
"""Beats of the plain pattern before and after a step that needs a way in or out, at least."""


def routine_lines(target: Pattern, steps: tuple[Step, ...]) -> Iterator[str]:
    """Yield the pieces of a routine file, each step with its reason as a comment.

    All steps have the usual tempo of `target`, so that the new throw is equally high in each.
    """
    tempo = default_tempo(target)
    yield comment(
        f"{counted(len(steps), 'step')} to {target.text}, as `throwcount leadup` lays them out. "
        "Change the lengths, the rests and the tempo as you like."
    )
    yield from toml_lines({"title": f"Up to {shortened(target.text)}", "tempo": tempo})
    before: Step | None = None
    for number, step in enumerate(steps, 1):
        if before is not None:
            yield from toml_lines({"part": [{"rest": True, "seconds": REST_SECONDS}]})
        parts = "".join(toml_lines({"part": _parts(step, before, tempo)}))
        yield f"\n{comment(f'Step {number}. {step.why}')}{parts.lstrip()}"
        before = step


def _parts(step: Step, before: Step | None, tempo: float) -> list[dict[str, Any]]:
    """Return the parts of a step: the drill, with the plain pattern around it where needed."""
    drill: dict[str, Any] = {
        "pattern": step.pattern.text,
        "cycles": max(FEWEST_CYCLES, round(STEP_SECONDS * tempo / 60 / step.pattern.period)),
        "last-one": True,
    }
    plain = plain_pattern(step.pattern)
    parts = [drill]
    if plain and step.way_in:
        parts.insert(0, _plain(plain, step.pattern))
        drill["bridge"] = " ".join(step.way_in)
    if plain and step.way_out:
        parts.append({**_plain(plain, step.pattern), "bridge": " ".join(step.way_out)})
    more = step.pattern.objects - (step if before is None else before).pattern.objects
    if more:
        parts[0]["pick-up"] = more
    return parts


def plain_pattern(like: Pattern) -> str:
    """Return the pattern of as many objects, thrown in the same way and all equally high.

    Empty if there is none: hands that throw together have no equal throws for an odd number.
    """
    if like.kind == "async":
        return VALUE_DIGITS[like.objects]
    each = VALUE_DIGITS[like.objects]
    return f"({each},{each})" if like.objects % 2 == 0 else ""


def _plain(plain: str, like: Pattern) -> dict[str, Any]:
    return {"pattern": plain, "cycles": -(-PLAIN_BEATS // like.beats_per_turn)}


EPILOG: Final = """\
\b
Examples:
  throwcount leadup 7
  throwcount leadup 97531 --from-objects 4
  throwcount leadup "(4,2x)*" --json
  throwcount leadup 7 --routine seven.toml
"""


@click.command("leadup", cls=PatternCommand, epilog=EPILOG, context_settings=HELP_OPTIONS)
@click.argument("target")
@option(
    "--from-objects N",
    WholeRange(min=1),
    "Start from N objects, which you handle safely now.  [default: one fewer than TARGET has]",
    name="safe",
)
@option("--routine FILE", FILE, "Write the steps as a routine too: see `throwcount plan`.")
@force_option
@json_option
def leadup_command(
    target: str, safe: int | None, routine: Path | None, force: bool, as_json: bool
) -> None:
    """Lay out the steps to a throw or a pattern.

    TARGET is a pattern; its highest throw is the new one. The first step has that throw with
    fewer objects. Each further step adds one object, or more of the new throw, and changes as
    little else as possible.
    """
    with reporting_wrong_input(target, as_json):
        known = read(target)
        handled = safe or usual_safe(known)
        steps = lead_up(known, handled)
    if routine is not None:
        write_text(routine, routine_lines(known, steps), overwrite=force)
    if as_json:
        written = {} if routine is None else {"routine": str(routine)}
        show_json(leadup_document(known, steps, handled) | written)
        return
    show(*leadup_page(known, steps, handled))
    if routine is not None:
        show("")
        tell(f"Wrote {routine}: `throwcount plan {routine}` lays it out, and `play` plays it.")
