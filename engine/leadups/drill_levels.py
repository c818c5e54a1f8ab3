"""The patterns that may lead up to a target, on levels by their number of objects."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, TypeAlias

from engine.leadups.difficulty import Difficulty, difficulty
from engine.leadups.drills import from_ground, from_turns, one_object_less, rotations
from engine.patterns.pattern import HIGHEST_VALUE, Pattern, Throw

PATTERNS_KEPT: Final = 8
"""Patterns of a level that are near the target."""

BEAT_POINTS: Final = 0.15
"""What a beat of a drill counts, beside its points, when few are kept: short ones are better."""


@dataclass(frozen=True, slots=True)
class Drill:
    """A pattern on a level."""

    pattern: Pattern
    """Begun in the ground state if it passes it, unless it is the target."""
    difficulty: Difficulty
    """How hard it is."""
    share: float
    """How many throws a beat have the new value; 0 for a preparation."""

    @property
    def points(self) -> float:
        """The total of its difficulty."""
        return self.difficulty.total

    @property
    def excited(self) -> bool:
        """Whether it never passes the ground state."""
        return self.difficulty.excitement > 0

    @property
    def preparation(self) -> bool:
        """Whether the new throw is missing."""
        return self.share == 0


Level: TypeAlias = list[Drill]


def levels(target: Pattern, fewest: int) -> Iterator[Level]:
    """Yield drills for a target's highest throw: with its number of objects, then one less, ...

    The first drill of all is the target. Each level has a drill that is easier than one on the
    level before, so that there is a way up from the last level that is never easier again.

    The target is a pattern that can be thrown, with more objects than `fewest`. `fewest` is how
    many objects the last level has, 0 or more.
    """
    near = [_drill(target, target.highest)]
    yield near + _usual(target, target.objects, near)
    for objects in range(target.objects - 1, fewest - 1, -1):
        near = _nearest(near, target)
        yield near + _usual(target, objects, near)


def _drill(pattern: Pattern, value: int) -> Drill:
    times = sum(throw.value == value for _, throw in pattern.throws())
    return Drill(pattern, difficulty(pattern), times / pattern.period)


def _nearest(above: Level, target: Pattern) -> Level:
    """Return the easiest drills with one object less than those of the level above."""
    known: dict[str, Pattern] = {}
    for parent in above:
        for pattern in one_object_less(parent.pattern, target.highest):
            known.setdefault(_begun_anyhow(pattern), pattern)
    found = [_drill(from_ground(pattern, target), target.highest) for pattern in known.values()]
    return sorted(found, key=_effort)[:PATTERNS_KEPT]


def _effort(drill: Drill) -> tuple[bool, float, str]:
    pattern = drill.pattern
    return drill.excited, drill.points + BEAT_POINTS * pattern.period, pattern.text


def _usual(target: Pattern, objects: int, near: Level) -> Level:
    """Return the high throw among the easiest others, and the plain pattern, if they are new."""
    value = target.highest
    patterns = []
    if target.kind == "async" and 0 < objects < value:
        patterns.append(_alternating(value, *(objects - 1,) * (value - objects)))
    if objects < min(target.objects, HIGHEST_VALUE + 1):
        patterns.append(_alternating(objects))
    known = {_begun_anyhow(drill.pattern) for drill in near}
    return [_drill(one, value) for one in patterns if _begun_anyhow(one) not in known]


def _alternating(*values: int) -> Pattern:
    return from_turns("async", tuple(((Throw(each),) if each else (),) for each in values))


def _begun_anyhow(pattern: Pattern) -> str:
    """Return a name that all rotations of a pattern share."""
    return min(from_turns(pattern.kind, turns).text for turns in rotations(pattern))
