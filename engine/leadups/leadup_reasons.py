"""Why a step of a lead-up is there, in a sentence or two."""

from typing import Final

from engine.leadups.drill_levels import Drill
from engine.patterns.pattern import HELD_VALUE, VALUE_DIGITS, Pattern, Throws

SPOKEN_WITH_AN: Final = frozenset("8aefhilmnorsx")
"""Throws whose names begin with the sound of a vowel."""

WITHOUT_OBJECTS: Final = (
    "Preparation without objects: let the empty hands keep the beat, in turn, until it is steady."
)
PREPARATION: Final = (
    "Preparation without the {new}: the plain pattern of {objects}, to be steady before it comes."
)


def reason(before: Drill | None, drill: Drill, target: Pattern) -> str:
    """Return why a drill follows the one before it, or begins a plan.

    `before` is None for the first drill. `drill` is the drill itself; the plan's last one has the
    pattern `target`. `target` is what the plan leads up to.
    """
    new = VALUE_DIGITS[target.highest]
    if not drill.pattern.objects:
        return WITHOUT_OBJECTS
    if drill.preparation:
        return PREPARATION.format(new=new, objects=_objects_told(drill))
    opening = "The target itself. " if drill.pattern is target else ""
    if before is None:
        return (
            f"{opening}Get to know the {new} with {_objects_told(drill)}: it comes {_rate(drill)}."
        )
    if before.preparation:
        return f"{opening}Now the {new} comes in, {_rate(drill)}."
    more = drill.pattern.objects - before.pattern.objects
    return f"{opening}{'One' if more else 'No'} object more{_difference(before, drill, new)}."


def _objects_told(drill: Drill) -> str:
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
    """Tell what changes: the one throw, or else how often the new throw comes."""
    told = _one_throw(before.pattern, drill.pattern)
    if told:
        return f", and only one throw is new: {told}"
    if drill.share > before.share:
        return f": the {new} comes more often, {_rate(drill)}"
    if drill.share < before.share:
        return f": the {new} comes {_rate(drill)}, so that there is time for the other throws"
    return f": the {new} comes as often as before, and the throws around it are nearer the target's"


def _one_throw(before: Pattern, after: Pattern) -> str:
    """Tell the single throw that changes, when two patterns are written equally long."""
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
    held = "held " if throws[0].value == HELD_VALUE else ""
    return f"a {held}2" if held else _with_article(str(throws[0]))


def _with_article(throw: str) -> str:
    return f"{'an' if throw[0] in SPOKEN_WITH_AN else 'a'} {throw}"
