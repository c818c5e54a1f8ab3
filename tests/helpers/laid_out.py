"""Routines to lay out: parts, rests, and the run of what was laid out."""

from throwcount.engine.patterns.rules import read
from throwcount.engine.routines.layout import LaidOut, LaidPart
from throwcount.engine.routines.routine import (
    Length,
    PatternPart,
    RestPart,
    Routine,
    RoutinePart,
)
from throwcount.engine.routines.routine_run import (
    cue_words,
    run_parts,
)
from throwcount.engine.timing.run import Run, Wording
from throwcount.engine.timing.timeline import Beat


def part(text: str, cycles: int = 4, **more: object) -> PatternPart:
    return PatternPart(pattern=read(text), length=Length(cycles=cycles), **more)


def rest(beats: int = 16, **more: object) -> RestPart:
    return RestPart(length=Length(beats=beats), **more)


def routine(*parts: RoutinePart, **more: object) -> Routine:
    return Routine(**{"title": "a walk", "parts": parts, "tempo": 180.0, **more})


def paces(text: str) -> tuple[float, ...]:
    return (0.1 + 0.3 * len(text.split()), 0.1 + 0.2 * len(text.split()))


def run_of(laid: LaidOut) -> Run:
    cues = cue_words(laid, Wording(), paces, lambda _: True)
    parts = tuple(each for _, each in run_parts(laid))
    return Run(parts, laid.tempo, first=laid.routine.first, cues=tuple(cues))


def throwing_hands(beat: Beat) -> list[tuple[str, tuple[str, ...], tuple[str, ...]]]:
    hands = (
        ("left", beat.throws.left, beat.objects.left),
        ("right", beat.throws.right, beat.objects.right),
    )
    return [each for each in hands if each[1]]


def opens(laid: LaidOut, wanted: LaidPart) -> bool:
    """Return whether a part opens the routine or follows a rest."""
    index = laid.parts.index(wanted)
    return index == 0 or isinstance(laid.parts[index - 1].part, RestPart)
