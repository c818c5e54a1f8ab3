"""Drills: easier patterns near a target, on levels by their number of objects.

Two changes take one object out of a pattern and leave one that can be thrown. In a pattern
written over n beats, which may be several repetitions of it,

- a throw of n or more may be n lower, as it then lands on the same beat of the sequence;
- the throws of an object that has an orbit of its own may all be left out.

Every other throw stays as it is, so that what has been learned remains of use.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final, TypeAlias

from throwcount.engine.hands.difficulty import Difficulty, difficulty
from throwcount.engine.patterns.pattern import (
    HIGHEST_VALUE,
    Hand,
    Pattern,
    Site,
    Throw,
    Turn,
    rotations,
)
from throwcount.engine.patterns.states import Orbit, is_ground, orbits, states, true_period

LONGEST_DRILL: Final = 12
"""Beats of a drill, at most, where one so short can be found: more are hard to keep in mind."""

Turns: TypeAlias = tuple[Turn, ...]
Changes: TypeAlias = Mapping[Site, list[tuple[Throw, Throw | None]]]
"""For each site, its throws that change, each with the throw in its place, or None."""

PLACES: Final[Mapping[Hand, int]] = {"left": 0, "right": 1}
"""The place of each hand in a pair."""


def shortest(pattern: Pattern) -> Pattern:
    """Return the pattern over its true period."""
    turns = pattern.turns[: true_period(pattern) // pattern.beats_per_turn]
    return pattern if turns == pattern.turns else Pattern.of(pattern.kind, turns)


def from_ground(pattern: Pattern, like: Pattern) -> Pattern:
    """Return the rotation that begins in the ground state, or the pattern itself without one.

    The pattern is one that can be thrown. Of several rotations, the one that differs least from
    the pattern `like` is taken.
    """
    begun = [
        Pattern.of(pattern.kind, turns)
        for turns, before in zip(rotations(pattern.turns), states(pattern), strict=True)
        if is_ground(before)
    ]
    return min(begun, key=lambda one: changed_share(one, like), default=pattern)


def changed_share(one: Pattern, other: Pattern) -> float:
    """Return the share of turns, 0 to 1, that differ when two patterns begin together."""
    if one.kind != other.kind:
        return 1.0
    turns = math.lcm(len(one.turns), len(other.turns))
    whole, same = (pattern.turns * (turns // len(pattern.turns)) for pattern in (one, other))
    return sum(a != b for a, b in zip(whole, same, strict=True)) / turns


def one_object_less(pattern: Pattern, kept: int) -> Iterator[Pattern]:
    """Yield patterns with one object less in which some throw still has the value `kept`.

    They have at most `LONGEST_DRILL` beats, or as many as it takes to find any; the same one
    may come several times. The pattern is one that can be thrown, with at least two objects, one
    of whose throws has the value `kept`.
    """
    found = False
    # Written as often as it has objects, each orbit falls into orbits of one object.
    for times in range(1, max(pattern.objects, LONGEST_DRILL // pattern.period) + 1):
        if found and times * pattern.period > LONGEST_DRILL:
            return
        for changes in (*_lower_throws(pattern, times), *_single_orbits(pattern, times)):
            turns = _changed(pattern.turns * times, changes)
            if makes(turns, kept):
                found = True
                yield shortest(Pattern.of(pattern.kind, turns))


def makes(turns: Turns, value: int) -> bool:
    """Return whether some throw in `turns` has this value."""
    return any(throw.value == value for turn in turns for throws in turn for throw in throws)


def _lower_throws(pattern: Pattern, times: int) -> Iterator[Changes]:
    """Yield each single throw that may be lower, in the last of several repetitions."""
    beats = pattern.period * times
    before = len(pattern.turns) * (times - 1)
    for (turn, place), throw in pattern.throws():
        # A throw lowered to 0 is left out; a crossing 0 would be in the other hand at once.
        if throw.value > beats or (throw.value == beats and not throw.crossed):
            lower = Throw(throw.value - beats, throw.crossed)
            yield {(before + turn, place): [(throw, lower if lower.value else None)]}


def _single_orbits(pattern: Pattern, times: int) -> Iterator[Changes]:
    """Yield the throws of each object that has an orbit of its own over several repetitions."""
    repeated = Pattern(pattern.text, pattern.kind, pattern.turns * times)
    for orbit in orbits(repeated):
        if orbit.objects == 1:
            yield _left_out(repeated, orbit)


def _left_out(pattern: Pattern, orbit: Orbit) -> Changes:
    changes: dict[Site, list[tuple[Throw, Throw | None]]] = {}
    for beat, name, hand in zip(orbit.beats, orbit.throws, orbit.hands, strict=True):
        site = beat // pattern.beats_per_turn, PLACES[hand] if pattern.kind == "sync" else 0
        thrown = pattern.turns[site[0]][site[1]]
        throw = next(throw for throw in thrown if str(throw) == name)
        changes.setdefault(site, []).append((throw, None))
    return changes


def _changed(turns: Turns, changes: Changes) -> Turns:
    changed = [list(turn) for turn in turns]
    for (turn, place), replacements in changes.items():
        throws = list(changed[turn][place])
        for throw, replacement in replacements:
            index = throws.index(throw)
            throws[index : index + 1] = [] if replacement is None else [replacement]
        changed[turn][place] = tuple(throws)
    return tuple(map(tuple, changed))


PATTERNS_KEPT: Final = 8
"""Patterns near the target on each level, at most."""

BEAT_POINTS: Final = 0.15
"""Points added for each beat of a drill when the easiest are chosen, as short ones are better."""


@dataclass(frozen=True, slots=True)
class Drill:
    """A pattern on a level."""

    pattern: Pattern
    """The pattern, begun in the ground state if it passes through it, unless it is the target."""
    difficulty: Difficulty
    """Its difficulty."""
    share: float
    """Throws a beat that have the new value; 0 for a preparation."""

    @property
    def points(self) -> float:
        """The number of its difficulty."""
        return self.difficulty.number

    @property
    def excited(self) -> bool:
        """Whether it never passes the ground state."""
        return self.difficulty.work.entry > 0

    @property
    def preparation(self) -> bool:
        """Whether the new throw is missing."""
        return self.share == 0


Level: TypeAlias = list[Drill]


def levels(target: Pattern, fewest: int) -> Iterator[Level]:
    """Yield drills for a target's highest throw, level by level, each with one object less.

    The first drill of all is the target. Each level has a drill that is easier than one on the
    level before, so that there is a way up from the last level on which no step gets easier.

    The target is a pattern that can be thrown, with more objects than `fewest`, which is the
    number of objects on the last level, 0 or more.
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
    """Return the easiest drills with one object less than those on the level above."""
    known: dict[str, Pattern] = {}
    for parent in above:
        for pattern in one_object_less(parent.pattern, target.highest):
            known.setdefault(_rotation_class(pattern), pattern)
    found = [_drill(from_ground(pattern, target), target.highest) for pattern in known.values()]
    easiest = sorted(
        found,
        key=lambda drill: (
            drill.excited,
            drill.points + BEAT_POINTS * drill.pattern.period,
            drill.pattern.text,
        ),
    )
    return easiest[:PATTERNS_KEPT]


def _usual(target: Pattern, objects: int, near: Level) -> Level:
    """Return the drill with the new throw among the easiest others, and the plain pattern.

    Those that are in `near`, in any rotation, are left out.
    """
    value = target.highest
    patterns = []
    if target.kind == "async" and 0 < objects < value:
        patterns.append(_alternating(value, *(objects - 1,) * (value - objects)))
    if objects < min(target.objects, HIGHEST_VALUE + 1):
        patterns.append(_alternating(objects))
    known = {_rotation_class(drill.pattern) for drill in near}
    return [_drill(one, value) for one in patterns if _rotation_class(one) not in known]


def _alternating(*values: int) -> Pattern:
    return Pattern.of("async", tuple(((Throw(each),) if each else (),) for each in values))


def _rotation_class(pattern: Pattern) -> str:
    """Return a name that all rotations of a pattern share."""
    return min(Pattern.of(pattern.kind, turns).text for turns in rotations(pattern.turns))
