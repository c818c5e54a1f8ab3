"""A lead-up as a routine: its steps one after another, with rests between."""

import textwrap
from collections.abc import Iterator
from typing import Any, Final

from caller.console.terminal import counted, shortened
from caller.routine_file.writing import toml_lines
from engine.leadups.leadup import Step
from engine.patterns.flight import default_tempo
from engine.patterns.pattern import VALUE_DIGITS, Pattern

STEP_SECONDS: Final = 25.0
"""How long a step goes on, about."""

FEWEST_CYCLES: Final = 4
REST_SECONDS: Final = 20
PLAIN_BEATS: Final = 16
"""Throws of the plain pattern before and after a step that is thrown out of it, at least."""

WIDTH: Final = 90


def routine_lines(target: Pattern, steps: tuple[Step, ...]) -> Iterator[str]:
    """Yield the pieces of a routine file, each step with its reason as a comment.

    Parameters
    ----------
    target
        What it leads up to. All steps have its usual tempo, so that the new throw is as high in
        each of them.
    steps
        From `engine.leadups.leadup.lead_up`.
    """
    tempo = default_tempo(target)
    yield _comment(
        f"{counted(len(steps), 'step')} to {target.text}, as `throwcount leadup` lays them out. "
        "Change the lengths, the rests and the tempo as you like."
    )
    yield from toml_lines({"title": f"Up to {shortened(target.text)}", "tempo": tempo})
    before: Step | None = None
    for number, step in enumerate(steps, 1):
        if before is not None:
            yield from toml_lines({"part": [{"rest": True, "seconds": REST_SECONDS}]})
        parts = "".join(toml_lines({"part": _parts(step, before, tempo)}))
        yield f"\n{_comment(f'Step {number}. {step.why}')}{parts.lstrip()}"
        before = step


def _parts(step: Step, before: Step | None, tempo: float) -> list[dict[str, Any]]:
    """Return the parts of a step: the drill, and the plain pattern around it where needed."""
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
    """Return the pattern that throws as many objects equally high, thrown in the same way.

    Empty where there is none: hands that throw together have no equal throws for an odd number.
    """
    if like.kind == "async":
        return VALUE_DIGITS[like.objects]
    each = VALUE_DIGITS[like.objects]
    return f"({each},{each})" if like.objects % 2 == 0 else ""


def _plain(plain: str, like: Pattern) -> dict[str, Any]:
    return {"pattern": plain, "cycles": -(-PLAIN_BEATS // like.beats_per_turn)}


def _comment(text: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent="# ", subsequent_indent="# ") + "\n"
