"""Drills: easier patterns that prepare for a target, in three of the ways that coaches use.

*Gaps*
    What is new in the target, at its height, with empty hands between.
*Mixed in*
    What is new among easier throws.
*Family*
    A sister of the target, shorter or with one object fewer, which has its rhythm.

What is new is the target's highest throw or, where a hand throws several objects at once, the
largest multiplex. The ways and their examples are common practice; that the searches below find
those examples is tested.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import chain, islice
from typing import Final, Literal, NamedTuple, TypeAlias

from throwcount.engine.errors import PatternError
from throwcount.engine.hands.difficulty import difficulty as hands_difficulty
from throwcount.engine.patterns.pattern import (
    VALUE_DIGITS,
    Pattern,
    Site,
    Throw,
    Throws,
    Turn,
    rotations,
    swapped,
)
from throwcount.engine.patterns.rows import HandLimits, canonical
from throwcount.engine.patterns.rules import check
from throwcount.engine.patterns.states import orbits, states, true_period, turns_from_ground
from throwcount.engine.search.find import PatternQuery, find, magnitude

DrillKind: TypeAlias = Literal["gap", "mixed", "family"]

FEWEST_OBJECTS: Final = 3
"""Objects of a drill, at least, as far as the target has more: one or two teach little."""

LONGEST_ROUND: Final = 24
"""Beats of a target, repeated, of which an object is left out, at most."""


class Drill(NamedTuple):
    """A pattern that prepares for a target."""

    pattern: Pattern
    """The pattern."""
    kind: DrillKind
    """The way in which it prepares."""
    why: str
    """What it teaches, in a sentence."""


def difficulty(pattern: Pattern) -> float:
    """Return how hard a pattern is at its default tempo."""
    return hands_difficulty(pattern).number


def shortest(pattern: Pattern) -> Pattern:
    """Return the pattern over its true period."""
    turns = pattern.turns[: true_period(pattern) // pattern.beats_per_turn]
    return pattern if turns == pattern.turns else Pattern.of(pattern.kind, turns)


def begun_near_ground(pattern: Pattern, every: int = 1, first: int = 0) -> Pattern:
    """Return the rotation, of every so many from the first on, that is nearest to the ground state.

    It is thus the easiest to begin.
    """
    begun = list(zip(rotations(pattern.turns), states(pattern), strict=True))[first::every]
    nearest = min(begun, key=lambda one: turns_from_ground(one[1], pattern.objects))
    return Pattern.of(pattern.kind, nearest[0])


def is_plain(pattern: Pattern) -> bool:
    """Return whether every hand makes one throw, all of them equally high, on every turn."""
    return not pattern.multiplex and all(
        bool(throws) and throws[0].value == pattern.highest
        for turn in pattern.turns
        for throws in turn
    )


def what_is_new(target: Pattern) -> Throws:
    """Return the throws of one hand that are new: the largest multiplex, or the highest throw."""
    return max(
        (throws for turn in target.turns for throws in turn),
        key=lambda throws: (len(throws), sorted((throw.value for throw in throws), reverse=True)),
    )


def has_ones_in_a_row(pattern: Pattern) -> bool:
    """Return whether two 1s follow each other, as they do in 5111 and, going round, in 1551."""
    ones = [any(throw.value == 1 for throw in turn[0]) for turn in pattern.turns]
    return pattern.kind == "async" and any(
        here and there for here, there in zip(ones, ones[1:] + ones[:1], strict=True)
    )


def gaps(target: Pattern, has: int) -> Iterator[Drill]:
    """Yield drills in which what is new is thrown with empty hands between.

    A throw of n beats comes back to its own beat of n. So each of n beats may have it or be empty,
    and there are as many objects as beats that have it. For a plain target these are first every
    other beat, and then all but two, and all but one, in a row. Another target's highest throw
    comes with the objects that the juggler has, and with one fewer, spread as evenly as can be, or
    in a row if all but two of its beats have it.

    Around a multiplex, and where all of these are harder than the target, its own throws stay, and
    one object is left out.

    `has` is how many objects the juggler has.
    """
    new = what_is_new(target)
    limit, itself = difficulty(target), canonical(target).turns
    alone = [] if len(new) > 1 else list(_only_new(target, new[0], has))
    others = (drill.pattern for drill in alone if canonical(drill.pattern).turns != itself)
    if any(difficulty(one) <= limit for one in others):
        yield from alone
    elif fewer := min(left_out(target), key=difficulty, default=None):
        yield Drill(fewer, "gap", "The target with one object left out, and nothing in its place.")


def _only_new(target: Pattern, throw: Throw, has: int) -> Iterator[Drill]:
    """Yield the drills that have nothing but one throw and empty hands."""
    beats, places = throw.value, target.places
    if is_plain(target):
        # As many as are thrown on every other turn.
        spread = [min(has, places * -(-beats // (2 * places)))]
        in_a_row = range(max(min(has, beats - 2), min(beats - 1, 2)), beats)
    else:
        few = fewest(target, has)
        spread = list(range(few, min(target.objects, beats - 2) + 1))
        in_a_row = range(max(few, beats - 2), target.objects + 1)
    for objects in spread:
        yield from _gap(target, throw, objects, spread=True)
    for objects in in_a_row:
        yield from _gap(target, throw, objects, spread=False)


def _gap(target: Pattern, throw: Throw, objects: int, *, spread: bool) -> Iterator[Drill]:
    """Yield the drill of `objects` of a throw, as far apart as can be or one after the other."""
    # Spread out, hands that throw together keep together.
    unit = target.places if spread else 1
    units, number = throw.value // unit, objects // unit
    if not 0 < number < units:
        return
    chosen = [-(-each * units // number) if spread else each for each in range(number)]
    sites = {divmod(each * unit + more, target.places) for each in chosen for more in range(unit)}
    pattern = _thrown_at(target, throw, sites)
    with_objects = f"{pattern.objects} object{'' if pattern.objects == 1 else 's'}"
    if spread and unit == 1 and objects * 2 == throw.value:
        how = "held" if throw.held else "at its height"
        why = f"The {throw} {how}, {with_objects} in one hand; the other rests."
    elif spread:
        why = f"The {throw} at its height with {with_objects}: an empty hand gives time to aim."
    else:
        why = f"{objects} times the {throw} in a row, then a rest until the first comes down."
    yield Drill(pattern, "gap", why)


def _thrown_at(target: Pattern, throw: Throw, sites: set[Site]) -> Pattern:
    """Return the pattern that has `throw` at these sites, and comes round when it lands."""
    turns: tuple[Turn, ...] = tuple(
        tuple((throw,) if (turn, place) in sites else () for place in range(target.places))
        for turn in range(throw.value // target.beats_per_turn)
    )
    if throw.crossed:
        turns += swapped(turns)
    return shortest(Pattern.of(target.kind, turns))


def fewest(target: Pattern, has: int) -> int:
    """Return the fewest objects of a drill: one fewer than the juggler has, but not too few."""
    most = target.objects - 1 if is_plain(target) else target.objects
    return max(min(has, most) - 1, min(FEWEST_OBJECTS, most), 1)


def left_out(pattern: Pattern) -> Iterator[Pattern]:
    """Yield patterns without one object, and nothing in its place.

    They are the shortest that there are, and each has what is new in `pattern`; none if that
    takes more than `LONGEST_ROUND` beats.
    """
    for times in range(1, LONGEST_ROUND // pattern.period + 1):
        repeated = Pattern(pattern.text, pattern.kind, pattern.turns * times)
        alone = [orbit for orbit in orbits(repeated) if orbit.objects == 1]
        found = False
        for orbit in alone:
            turns = [[list(throws) for throws in turn] for turn in repeated.turns]
            for beat, name, hand in zip(orbit.beats, orbit.throws, orbit.hands, strict=True):
                place = int(hand == "right") if pattern.kind == "sync" else 0
                throws = turns[beat // pattern.beats_per_turn][place]
                throws.remove(next(throw for throw in throws if str(throw) == name))
            one = Pattern.of(pattern.kind, tuple(tuple(map(tuple, turn)) for turn in turns))
            if _holds(one, what_is_new(pattern)):
                found = True
                yield begun_near_ground(shortest(one))
        if found:
            return


def _holds(pattern: Pattern, new: Throws) -> bool:
    return any(_same(throws, new) for turn in pattern.turns for throws in turn)


def _same(throws: Throws, others: Throws) -> bool:
    """Return whether a hand throws the same; the order within a multiplex does not matter."""
    return sorted(map(str, throws)) == sorted(map(str, others))


MOST_FOUND: Final = 3.0
"""Decimal logarithm of how many patterns of one period are compared, at most: about 1,000."""

LONGEST_MIXED: Final = 6
"""Beats of a pattern that mixes in what is new, at most."""

BEAT: Final = 0.2
"""Difficulty added for each beat where patterns are compared, as a short one is soon learnt."""

SHARES: Final = (1 / 3, 1 / 2, 2 / 3, 1)
"""Limits of the share of new throws: of each class the easiest pattern is taken."""


def mixed(target: Pattern, has: int) -> Iterator[Drill]:
    """Yield the easiest drills in which what is new comes among easier throws, ever more often.

    They are found among all short patterns, from one object fewer than the juggler has, that throw
    no higher, have no empty hand, no long rest and no two 1s in a row. What is new comes at most as
    often as in the target, and with fewer objects on at most half of the throws. `has` is how many
    objects the juggler has.
    """
    new = what_is_new(target)
    often = _share(target, new)
    most = target.objects - 1 if is_plain(target) else target.objects
    for objects in range(fewest(target, has), most + 1):
        lower = SHARES[:2] if is_plain(target) else SHARES[1:2]
        classes = SHARES if objects == most else lower
        easiest: dict[float, tuple[float, Pattern]] = {}
        for pattern in _holding(target, new, objects):
            share = _share(pattern, new)
            limit = next((limit for limit in classes if share <= limit), None)
            if limit is None or share > often:
                continue
            hard = difficulty(pattern) + BEAT * pattern.period
            if limit not in easiest or hard < easiest[limit][0]:
                easiest[limit] = hard, pattern
        for _, pattern in easiest.values():
            yield Drill(pattern, "mixed", _mixed_text(pattern, new))


def _holding(target: Pattern, new: Throws, objects: int) -> Iterator[Pattern]:
    """Yield short patterns that hold what is new among other throws, without an empty hand.

    One is longer if the search does not go as far: a high throw, and the plain pattern of one
    object fewer until it lands, as in b55555.
    """
    capacity = max(len(throws) for turn in target.turns for throws in turn)
    without = frozenset({0}) if capacity == 1 else frozenset()
    hands = HandLimits(target.kind, target.highest, capacity, without)
    values, itself = frozenset(throw.value for throw in new), canonical(target).turns
    others = new[0].value - objects
    if hands.plain and LONGEST_MIXED <= others < 2 * LONGEST_MIXED and objects > 1:
        yield _alternating([new[0].value, *(objects - 1,) * others])
    for period in range(2, LONGEST_MIXED + 1):
        query = PatternQuery(objects, hands, (period,), containing=values)
        if not query.lengths or magnitude(query) > MOST_FOUND:
            continue
        for pattern in find(query):
            if (
                _holds(pattern, new)
                and all(
                    len(throws) == 1 or _same(throws, new)
                    for turn in pattern.turns
                    for throws in turn
                )
                and not is_plain(pattern)
                and not _rests_long(pattern)
                and not has_ones_in_a_row(pattern)
                and (period != target.period or canonical(pattern).turns != itself)
            ):
                yield pattern


def _rests_long(pattern: Pattern) -> bool:
    """Return whether a hand holds what it has twice while nothing is thrown, as in 72222."""
    thrown = [any(not throw.held for throws in turn for throw in throws) for turn in pattern.turns]
    row = 2 // pattern.places + 1
    return any(not any((thrown * 3)[turn : turn + row]) for turn in range(len(thrown)))


def _share(pattern: Pattern, new: Throws) -> float:
    hands = [throws for turn in pattern.turns for throws in turn]
    return sum(_same(throws, new) for throws in hands) / len(hands)


def new_once(target: Pattern) -> Iterator[Pattern]:
    """Yield short patterns in which what is new comes once, from the ground state and back.

    They have the objects of the target, and are those that `mixed` chooses from.
    """
    new = what_is_new(target)
    for pattern in _holding(target, new, target.objects):
        once = math.isclose(_share(pattern, new) * len(pattern.turns) * pattern.places, 1)
        for turns, state in zip(rotations(pattern.turns), states(pattern), strict=True):
            if once and not turns_from_ground(state, pattern.objects):
                yield Pattern.of(pattern.kind, turns)


def name_of(throws: Throws) -> str:
    """Return what one hand throws at once in notation, such as 5 or [54]."""
    return str(throws[0]) if len(throws) == 1 else f"[{''.join(map(str, throws))}]"


def _mixed_text(pattern: Pattern, new: Throws) -> str:
    hands = [throws for turn in pattern.turns for throws in turn]
    times = round(_share(pattern, new) * len(hands))
    often = {1: "once", 2: "twice"}.get(times, f"{times} times")
    return f"The {name_of(new)} among easier throws: {often} in {len(hands)}."


def family(target: Pattern, has: int) -> Iterator[Drill]:
    """Yield the target's sisters: one as it is but shorter, and those with fewer objects.

    Each has one object fewer than the one before it, down to one fewer than the juggler has. `has`
    is how many objects that is.
    """
    yield from islice(_sisters(target, _without_plain_throw(target), target.objects), 1)
    one = target
    while one.objects > fewest(target, has):
        sister = next(sisters(one), None)
        if sister is None:
            return
        yield sister
        one = sister.pattern


def sisters(pattern: Pattern) -> Iterator[Drill]:
    """Yield the sisters of a pattern with one object fewer, the likest first.

    Where the hands alternate and throw one object at a time:

    - every throw becomes one lower, as far as no hand is empty then (756, 645, 534, 423);
    - the highest throw is left out, with its beat (97531, 7531, 531);
    - so is one of several that are highest, and the others become one lower (66661, 5551, 441).

    In any pattern one of the highest throws may become lower by the period (91, 71, 51). No sister
    is a plain pattern, nor has two 1s in a row unless `pattern` has.
    """
    made = chain(_all_lower(pattern), _without_highest(pattern), _highest_lower(pattern))
    return _sisters(pattern, made, pattern.objects - 1)


def _sisters(
    pattern: Pattern, made: Iterable[tuple[Pattern, str]], objects: int
) -> Iterator[Drill]:
    """Yield those patterns, each with what was done, that can be thrown and are sisters."""
    ones = has_ones_in_a_row(pattern)
    for one, why in made:
        if (
            one.objects == objects
            and can_be_thrown(one)
            and not is_plain(one)
            and (ones or not has_ones_in_a_row(one))
        ):
            yield Drill(begun_near_ground(one), "family", why)


def _without_plain_throw(pattern: Pattern) -> Iterator[tuple[Pattern, str]]:
    """Yield the pattern without one throw that is as high as the plain pattern's (4413, 441)."""
    if pattern.kind == "sync" or pattern.multiplex:
        return
    values = _values(pattern)
    for beat, value in enumerate(values):
        if value == pattern.objects:
            rest = values[:beat] + values[beat + 1 :]
            if rest:
                yield _alternating(rest), f"{pattern.text} without a {VALUE_DIGITS[value]}."


def _without_highest(pattern: Pattern) -> Iterator[tuple[Pattern, str]]:
    """Yield patterns without one of the highest throws, and with the others one lower."""
    if pattern.kind == "sync" or pattern.multiplex:
        return
    values, high = _values(pattern), pattern.highest
    digit = VALUE_DIGITS[high]
    for beat in (beat for beat, value in enumerate(values) if value == high):
        rest = values[:beat] + values[beat + 1 :]
        if high in rest:
            rest = [value - (value == high) for value in rest]
            yield (
                _alternating(rest),
                f"{pattern.text} with one {digit} fewer, and the others lower.",
            )
        elif rest:
            yield _alternating(rest), f"{pattern.text} without the {digit}: it has the rhythm."


def _highest_lower(pattern: Pattern) -> Iterator[tuple[Pattern, str]]:
    """Yield patterns in which one of the highest throws is lower by the period, and not a 0."""
    for (turn, place), throw in pattern.throws():
        if throw.value != pattern.highest or throw.value <= pattern.period:
            continue
        low = replace(throw, value=throw.value - pattern.period)
        turns = [list(places) for places in pattern.turns]
        others = list(turns[turn][place])
        others.remove(throw)
        turns[turn][place] = (*others, low)
        changed = Pattern.of(pattern.kind, tuple(map(tuple, turns)))
        yield changed, f"{pattern.text} with one {throw} lowered to {low}."


def _all_lower(pattern: Pattern) -> Iterator[tuple[Pattern, str]]:
    """Yield the pattern with every throw a beat lower, unless a hand is empty then."""
    if pattern.kind == "async" and not pattern.multiplex and min(_values(pattern)) > 1:
        lower = _alternating([value - 1 for value in _values(pattern)])
        yield lower, f"{pattern.text} with every throw a beat lower: it has the rhythm."


def _values(pattern: Pattern) -> list[int]:
    """Return the throw values of an alternating pattern without a multiplex."""
    return [throws[0].value if throws else 0 for (throws,) in pattern.turns]


def _alternating(values: Iterable[int]) -> Pattern:
    return Pattern.of("async", tuple(((Throw(each),) if each else (),) for each in values))


def can_be_thrown(pattern: Pattern) -> bool:
    """Return whether a pattern can be thrown."""
    try:
        check(pattern)
    except PatternError:
        return False
    return True
