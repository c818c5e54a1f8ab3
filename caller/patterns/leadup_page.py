"""What `leadup` says: the steps up to a pattern, each with its reason."""

from collections.abc import Iterator
from typing import Any, Final

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from caller.console.terminal import counted, listed, shortened, table
from engine.leadups.leadup import Step
from engine.patterns.orbits import start
from engine.patterns.pattern import VALUE_DIGITS, Pattern

NUMBERS: Final = ("objects", "points")
POINTS_TOLD: Final = (
    "Points put the steps in order of difficulty. They are a model, from the objects, the heights, "
    "the kinds of throw and the length of the pattern, and know nothing of you: stay with a step "
    "until it runs, go back when it does not."
)


def leadup_document(target: Pattern, steps: tuple[Step, ...], safe: int) -> dict[str, Any]:
    """Return a lead-up as JSON has it.

    Parameters
    ----------
    target
        What it leads up to.
    steps
        From `engine.leadups.leadup.lead_up`.
    safe
        How many objects the juggler handles safely.
    """
    return {
        "target": target.text,
        "steps": [
            {
                "pattern": step.pattern.text,
                "objects": step.pattern.objects,
                "why": step.why,
                "difficulty": round(step.difficulty.total, 2),
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
    """Yield the parts of the page, from top to bottom; parameters as in `leadup_document`."""
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
        points = f"{step.difficulty.total:.1f}"
        objects = str(step.pattern.objects)
        why = " ".join([step.why, *_picked_up(step)])
        shown.add_row(str(number), shortened(step.pattern.text), objects, points, why)
    return shown


def _picked_up(step: Step) -> Iterator[str]:
    """Yield how to begin and to end what does not begin in the ground state."""
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
