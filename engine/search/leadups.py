"""Lead-ups: a plan of drills up to a pattern and its highest throw, with the reason for each step.

The highest throw of the target counts as new. The plan is found from its end: from the target
downwards each level has patterns with one object less that differ in one throw or in one object's
throws (`throwcount.engine.search.drills`), and one with the new throw among the easiest others. Of
all ways up through these levels on which the difficulty never falls, a shortest-path search takes
the one that climbs most evenly and changes least from step to step. A pattern without the new
throw, a *preparation*, is a last resort. As taking an object out makes every pattern easier, there
is always a way.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

from throwcount.engine.errors import LeadUpError
from throwcount.engine.hands.difficulty import Difficulty
from throwcount.engine.patterns.pattern import HELD_VALUE, VALUE_DIGITS, Pattern, Throws
from throwcount.engine.patterns.rules import check
from throwcount.engine.search.bridges import BridgeError, bridge
from throwcount.engine.search.drills import Drill, changed_share, levels

SPOKEN_WITH_AN: Final = frozenset("8aefhilmnorsx")
"""Throws whose spoken names begin with a vowel."""

WITHOUT_OBJECTS: Final = (
    "Preparation without objects: let the empty hands keep the beat, in turn, until it is steady."
)
PREPARATION: Final = (
    "Preparation without the {new}: the plain pattern of {objects}, to be steady before it comes."
)


def reason(before: Drill | None, drill: Drill, target: Pattern) -> str:
    """Return why `drill` follows `before`, or begins the plan if that is None.

    `target` is what the plan leads up to; it is the pattern of its last drill.
    """
    new = VALUE_DIGITS[target.highest]
    if not drill.pattern.objects:
        return WITHOUT_OBJECTS
    if drill.preparation:
        return PREPARATION.format(new=new, objects=_objects_text(drill))
    opening = "The target itself. " if drill.pattern is target else ""
    if before is None:
        return (
            f"{opening}Get to know the {new} with {_objects_text(drill)}: it comes {_rate(drill)}."
        )
    if before.preparation:
        return f"{opening}Now the {new} comes in, {_rate(drill)}."
    more = drill.pattern.objects - before.pattern.objects
    return f"{opening}{'One' if more else 'No'} object more{_difference(before, drill, new)}."


def _objects_text(drill: Drill) -> str:
    count = drill.pattern.objects
    return f"{count} object{'' if count == 1 else 's'}"


def _rate(drill: Drill) -> str:
    beats = drill.pattern.period
    times = round(drill.share * beats)
    often = {1: "once", 2: "twice"}.get(times, f"{times} times")
    if beats == 1:
        return "on every beat" if times == 1 else f"{often} on every beat"
    return f"{often} in {beats} beats"


def _difference(before: Drill, drill: Drill, new: str) -> str:
    """Return what changes: the one throw, or else how often the new throw comes."""
    text = _one_throw(before.pattern, drill.pattern)
    if text:
        return f", and only one throw is new: {text}"
    if drill.share > before.share:
        return f": the {new} comes more often, {_rate(drill)}"
    if drill.share < before.share:
        return f": the {new} comes {_rate(drill)}, so that there is time for the other throws"
    return f": the {new} comes as often as before, and the throws around it are nearer the target's"


def _one_throw(before: Pattern, after: Pattern) -> str:
    """Return the change in words if two patterns, written equally long, differ in one throw."""
    beats = max(before.period, after.period)
    if before.kind != "async" or after.kind != "async" or after.multiplex or before.multiplex:
        return ""
    if beats % before.period or beats % after.period:
        return ""
    pairs = zip(*(one.turns * (beats // one.period) for one in (before, after)), strict=True)
    changes = [(beat, old, now) for beat, (old, now) in enumerate(pairs) if old != now]
    if len(changes) != 1:
        return ""
    beat, (old,), (now,) = changes[0]
    where = f"on beat {beat} of every {beats}, counted from 0, " if beats > 1 else ""
    return f"{where}{_named(old)} becomes {_named(now)}"


def _named(throws: Throws) -> str:
    if not throws:
        return "an empty hand"
    if throws[0].value == HELD_VALUE:
        return "a held 2"
    throw = str(throws[0])
    return f"{'an' if throw[0] in SPOKEN_WITH_AN else 'a'} {throw}"


LONGEST_TARGET: Final = 40
"""Beats of a target, at most."""

SHARE_COST: Final = 30.0
"""Cost of a step on which every throw becomes the new one, times the square of the share."""

CHANGE_COST: Final = 3.0
"""Cost of a step on which every turn changes."""

STEP_COST: Final = 0.5
"""Cost of every step, beside the square of the points that it climbs."""

BEAT_COST: Final = 0.08
"""Cost of a drill, times the square of its beats."""

EXCITED_COST: Final = 2.0
"""Cost of a drill that never passes the ground state."""

PREPARATION_COST: Final = 1000.0
"""Cost of a preparation: more than any way without one."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a plan."""

    pattern: Pattern
    """The pattern to throw."""
    difficulty: Difficulty
    """Its difficulty."""
    preparation: bool
    """Whether the new throw is missing."""
    why: str
    """Why this step is here, in a sentence or two."""
    way_in: tuple[str, ...] | None
    """The throws from the ground state into the pattern, in notation; empty if it begins there;
    None if no throws as low as its own lead into it."""
    way_out: tuple[str, ...] | None
    """The throws back to the ground state, in the same form."""


class _Route(NamedTuple):
    cost: float
    drills: tuple[Drill, ...]


def lead_up(target: Pattern, safe: int | None = None) -> tuple[Step, ...]:
    """Return the steps that lead up to a pattern, the last of them the pattern itself.

    The first step has one object less than the juggler handles safely, and fewer than the
    target. From step to step at most one object is added, and no step is easier than the one
    before it.

    The target has at least one object and at most `LONGEST_TARGET` beats. `safe` is how many
    objects the juggler handles safely now, 1 or more; `usual_safe` unless given.

    Raises
    ------
    AverageError, CollisionError
        If the target cannot be thrown.
    LeadUpError
        If it has no objects or too many beats, or `safe` is less than 1.
    """
    check(target)
    handled = usual_safe(target) if safe is None else safe
    _check_asked(target, handled)
    fewer = target.objects - 1
    # A target with one object is prepared without any, others with at least one.
    fewest = max(min(fewer, handled - 1), min(fewer, 1))
    found = [drill for level in levels(target, fewest) for drill in level]
    return tuple(_steps(_best_way(found, fewest), target))


def usual_safe(target: Pattern) -> int:
    """Return the objects that a juggler is assumed to handle safely: one fewer, but at least 1."""
    return max(target.objects - 1, 1)


def _check_asked(target: Pattern, safe: int) -> None:
    if not target.objects:
        raise LeadUpError("A rest without any object needs no lead-up: nothing is thrown.")
    if target.period > LONGEST_TARGET:
        raise LeadUpError(
            f"This pattern has {target.period:,} beats, and a lead-up is found for patterns of up "
            f"to {LONGEST_TARGET}: choose the part of it that is new."
        )
    if safe < 1:
        raise LeadUpError(f"A juggler handles at least 1 object safely, and {safe} is fewer.")


def _best_way(found: list[Drill], fewest: int) -> tuple[Drill, ...]:
    """Return the cheapest way from a drill with the fewest objects up to the target, the first."""
    target = found[0]
    no_harder = [drill for drill in found if drill.points <= target.points]
    climbing = sorted(
        no_harder, key=lambda drill: (drill.pattern.objects, drill.points, drill is target)
    )
    lowest = [drill for drill in no_harder if drill.pattern.objects == fewest]
    easiest = min((drill.preparation, drill.points) for drill in lowest)[1]
    ways: list[_Route] = []
    for drill in climbing:
        reached = [
            _Route(way.cost + _cost(drill, last.points, last.share, last), (*way.drills, drill))
            for way in ways
            if _may_follow(last := way.drills[-1], drill)
        ]
        if drill.pattern.objects == fewest:
            reached.append(_Route(_cost(drill, easiest, 0), (drill,)))
        if reached:
            ways.append(min(reached, key=lambda way: way.cost))
    # The target is the hardest with the most objects.
    return ways[-1].drills


def _may_follow(before: Drill, after: Drill) -> bool:
    more = after.pattern.objects - before.pattern.objects
    no_rarer = after.share >= before.share
    return after.points >= before.points and (more == 1 or (more == 0 and no_rarer))


def _cost(drill: Drill, points: float, share: float, before: Drill | None = None) -> float:
    """Return what a step up to a drill costs from these points, share of new throws, and drill."""
    climb = (drill.points - points) ** 2 + SHARE_COST * (drill.share - share) ** 2
    changed = changed_share(before.pattern, drill.pattern) if before else 0.0
    own = (
        STEP_COST
        + BEAT_COST * drill.pattern.period**2
        + EXCITED_COST * drill.excited
        + PREPARATION_COST * drill.preparation
    )
    return climb + CHANGE_COST * changed + own


def _steps(way: tuple[Drill, ...], target: Pattern) -> Iterator[Step]:
    for before, drill in zip((None, *way), way, strict=False):
        yield Step(
            drill.pattern,
            drill.difficulty,
            drill.preparation,
            reason(before, drill, target),
            _bridged(None, drill.pattern),
            _bridged(drill.pattern, None),
        )


def _bridged(leaving: Pattern | None, entering: Pattern | None) -> tuple[str, ...] | None:
    try:
        return bridge(leaving, entering).throws
    except BridgeError:
        return None
