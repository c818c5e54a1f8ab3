"""Lead-ups: the steps to a pattern as a coach gives them, with goals, tempos and reasons.

The steps come from the ways to a new pattern that are common practice: its new throw with gaps
between and mixed in among easier ones, its family (all in `throwcount.engine.search.drills`),
the pattern once and twice out of the plain pattern that runs anyway, and the other side of one that
keeps to a side. They are put in the order of their difficulty, and none is harder than the target.

Each pattern is worked at with goals: a *flash* (every object thrown and caught once), then to
*qualify* (twice), then a *run* of so many catches.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal, NamedTuple, TypeAlias, get_args

from throwcount.engine.errors import LeadUpError
from throwcount.engine.hands.difficulty import difficulty
from throwcount.engine.patterns.flight import default_tempo
from throwcount.engine.patterns.pattern import (
    HIGHEST_VALUE,
    Pattern,
    Throw,
    Turn,
    swapped,
    written_turn,
)
from throwcount.engine.patterns.rows import canonical
from throwcount.engine.patterns.rules import check
from throwcount.engine.search.bridges import BridgeError, bridge
from throwcount.engine.search.drills import (
    begun_near_ground,
    family,
    gaps,
    has_ones_in_a_row,
    is_plain,
    mixed,
    name_of,
    new_once,
    shortest,
    what_is_new,
)
from throwcount.engine.search.find import is_symmetric

TempoOf: TypeAlias = Callable[[Pattern], float]

StepKind: TypeAlias = Literal["gap", "mixed", "once", "family", "mirror", "target"]
StepGoal: TypeAlias = Literal["flash", "qualify", "run"]

LONGEST_TARGET: Final = 40
"""Beats of a target, at most."""

SHORT_RUN: Final = 50
LONG_RUN: Final = 100
"""Catches of a run: the goal of every step, and at last that of the target."""


LONGEST_CALM: Final = 3
"""Throws of each object in the plain pattern before another is thrown out of it, at most."""


@dataclass(frozen=True, slots=True)
class Excursion:
    """A pattern thrown once or twice out of the plain pattern that runs before and after it."""

    plain: Pattern
    """The plain pattern."""
    way_in: tuple[Turn, ...]
    """The throws that lead into the pattern; none if it begins in the ground state."""
    cycle: Pattern
    """The pattern, from the beat on which it is entered."""
    times: int
    """How often it is thrown."""
    way_out: tuple[Turn, ...]
    """The throws that lead back."""
    calm: int = 1
    """How often each object is thrown in the plain pattern, for each time of the other."""

    @property
    def plain_turns(self) -> int:
        """The turns on which the plain pattern is thrown.

        One object is thrown once more where that keeps a one-sided pattern on its side.
        """
        others = len(self.way_in) + len(self.cycle.turns) * self.times + len(self.way_out)
        turns = self.plain.objects // self.plain.places * self.times * self.calm
        one_sided = self.cycle.kind == "async" and not is_symmetric(shortest(self.cycle))
        return turns + 1 if one_sided and (turns + others) % 2 else turns

    @property
    def stretches(self) -> tuple[tuple[Turn, ...], ...]:
        """The turns of the plain pattern, the way in, the pattern, and the way out."""
        plain = self.plain.turns * self.plain_turns
        return plain, self.way_in, self.cycle.turns * self.times, self.way_out

    @property
    def round(self) -> Pattern:
        """All of it, as a pattern that may be repeated."""
        return Pattern.of(self.plain.kind, tuple(turn for part in self.stretches for turn in part))

    @property
    def text(self) -> str:
        """The throws of one round in notation, with spaces where something else begins."""
        return " ".join(
            "".join(written_turn(self.plain.kind, turn) for turn in turns)
            for turns in self.stretches
            if turns
        )


@dataclass(frozen=True, slots=True)
class Step:
    """One step: a pattern with a goal."""

    pattern: Pattern
    """The pattern to throw; of an excursion one whole round, which may be repeated."""
    kind: StepKind
    """The way in which it prepares for the target."""
    goal: StepGoal
    """What to reach several times in a row before going on."""
    catches: int
    """The goal in catches."""
    tempo: float
    """The tempo, in beats a minute."""
    difficulty: float
    """How hard the pattern is at this tempo; an excursion at most as hard as the target."""
    why: str
    """What the pattern teaches, in a sentence or two."""
    excursion: Excursion | None = None
    """What the pattern is made of if the target is thrown out of the plain pattern."""


class _Exercise(NamedTuple):
    """A pattern to be worked at, before it has goals."""

    pattern: Pattern
    kind: StepKind
    why: str
    goals: tuple[StepGoal, ...] = get_args(StepGoal)
    run: int = SHORT_RUN
    excursion: Excursion | None = None


def lead_up(
    target: Pattern, has: int | None = None, tempo_of: TempoOf = default_tempo
) -> tuple[Step, ...]:
    """Return the steps that lead up to a pattern, the last of them the pattern itself.

    `has` is how many objects the juggler has: runs of the plain pattern of so many. It is
    `usual_objects` unless given, and more than that makes no difference. `tempo_of` returns the
    tempo of a pattern.

    Raises
    ------
    AverageError, CollisionError
        If the target cannot be thrown.
    LeadUpError
        If it has no objects or too many beats, or `has` is less than 1.
    """
    check(target)
    usual = usual_objects(target)
    _check_asked(target, usual if has is None else has)
    handled = usual if has is None else min(has, usual)
    once = shortest(target)
    drills = [*gaps(once, handled), *mixed(once, handled), *family(once, handled)]
    exercises = [_Exercise(drill.pattern, drill.kind, drill.why) for drill in drills]
    measure = _Measure(once, tempo_of)
    exercises += _excursions(once, measure)
    ordered = [*_in_order(exercises, once, measure), *_last(target)]
    return tuple(step for exercise in ordered for step in _steps(exercise, measure))


def usual_objects(target: Pattern) -> int:
    """Return the objects that a juggler is taken to have: one fewer for a plain pattern."""
    return max(target.objects - is_plain(target), 1)


def _check_asked(target: Pattern, has: int) -> None:
    if not target.objects:
        raise LeadUpError("A rest without any object needs no lead-up: nothing is thrown.")
    if target.period > LONGEST_TARGET:
        raise LeadUpError(
            f"This pattern has {target.period:,} beats, and a lead-up is found for patterns of up "
            f"to {LONGEST_TARGET}: choose the part of it that is new."
        )
    if has < 1:
        raise LeadUpError(f"A juggler has at least 1 object to begin with, and {has} is fewer.")


def _in_order(
    exercises: list[_Exercise], target: Pattern, measure: "_Measure"
) -> Iterator[_Exercise]:
    """Yield what is to be worked at in the order of difficulty, each pattern once.

    What is harder than the target, or has two 1s in a row although the target has none, is left
    out. What is thrown from one hand is thrown from the other next.
    """
    ones = has_ones_in_a_row(target)
    known = {canonical(target).turns}
    for exercise in sorted(exercises, key=measure.difficulty):
        form = canonical(exercise.pattern).turns
        harder = measure.difficulty(exercise) > measure.limit
        if harder or form in known or (has_ones_in_a_row(exercise.pattern) and not ones):
            continue
        known.add(form)
        yield exercise
        if _in_one_hand(exercise.pattern):
            yield _other_side(exercise.pattern)


class _Measure:
    """How hard things are, each at its tempo, on the way to a target."""

    def __init__(self, target: Pattern, tempo_of: TempoOf) -> None:
        self.tempo_of = tempo_of
        self.limit = self._number(target)

    def difficulty(self, exercise: _Exercise) -> float:
        """Return how hard something is; an excursion is at most as hard as the target."""
        out = exercise.excursion
        return self._number(exercise.pattern) if out is None else min(self.rounds(out), self.limit)

    def rounds(self, out: Excursion) -> float:
        """Return how hard an excursion is round and round; twice is not easier than once."""
        rounds = (replace(out, times=times).round for times in range(1, out.times + 1))
        return max(map(self._number, rounds))

    def _number(self, pattern: Pattern) -> float:
        return difficulty(pattern, self.tempo_of(pattern)).number


def _in_one_hand(pattern: Pattern) -> bool:
    return (
        pattern.kind == "async"
        and pattern.period % 2 == 0
        and not any(throws for (throws,) in pattern.turns[1::2])
    )


def _last(target: Pattern) -> Iterator[_Exercise]:
    """Yield the target, its other side if it has one, and the target for a long run."""
    yield _Exercise(target, "target", "The target itself.")
    if not is_symmetric(shortest(target)):
        yield _other_side(target)
    yield _Exercise(target, "target", "The target itself, for long.", ("run",), LONG_RUN)


def _other_side(pattern: Pattern) -> _Exercise:
    why = f"The other side of {pattern.text}: each hand makes the throws of the other."
    return _Exercise(mirrored(pattern), "mirror", why)


def mirrored(pattern: Pattern) -> Pattern:
    """Return a one-sided pattern as it is thrown on the other side.

    Where the hands alternate, this is the pattern begun an odd number of beats later with the same
    hand, as near as can be to the ground state.
    """
    if pattern.kind == "sync":
        return Pattern.of("sync", swapped(pattern.turns))
    return begun_near_ground(pattern, every=2, first=1)


def plain_pattern(like: Pattern) -> Pattern | None:
    """Return the pattern of as many objects, thrown in the same way and all equally high.

    None if there is none: hands that throw together have no equal throws for an odd number, and no
    throw is higher than `HIGHEST_VALUE`.
    """
    if like.objects > HIGHEST_VALUE or like.objects % like.places:
        return None
    return Pattern.of(like.kind, (((Throw(like.objects),),) * like.places,))


def _excursions(target: Pattern, measure: "_Measure") -> Iterator[_Exercise]:
    """Yield the target thrown once, and twice, out of the plain pattern.

    The plain pattern goes on until the whole is no harder than the target. Where that would take
    more than `LONGEST_CALM` throws of each object, it goes on for one, as its throws are known;
    then a step before it has only the new throw, once, if that is easier than the target.
    """
    plain = plain_pattern(target)
    if plain is None or shortest(target) == plain:
        return
    try:
        entry = bridge(None, target, any_rotation=True)
        begun = entry.to_rotation // target.beats_per_turn
        cycle = Pattern.of(target.kind, target.turns[begun:] + target.turns[:begun])
        leaving = bridge(cycle, None)
    except BridgeError:
        return
    for times, how_often in enumerate(("once", "twice"), start=1):
        outs = [
            Excursion(plain, entry.turns, cycle, times, leaving.turns, calm)
            for calm in range(1, LONGEST_CALM + 1)
        ]
        if times == 1 and min(map(measure.rounds, outs)) > measure.limit:
            yield from _new_throw_once(plain, target, measure)
        out = next((each for each in outs if measure.rounds(each) <= measure.limit), outs[0])
        yield _out_of_the_plain(out, f"the target {how_often}")


def _new_throw_once(plain: Pattern, target: Pattern, measure: _Measure) -> Iterator[_Exercise]:
    """Yield the easiest way to throw what is new once out of the plain pattern, and go back."""
    outs = (
        Excursion(plain, (), cycle, 1, (), calm)
        for calm in range(1, LONGEST_CALM + 1)
        for cycle in new_once(target)
        if plain.turns[0] not in cycle.turns
    )
    easier = (out for out in outs if measure.rounds(out) < measure.limit)
    out = min(easier, key=lambda one: (one.calm, measure.rounds(one)), default=None)
    if out is not None:
        yield _out_of_the_plain(out, f"the {name_of(what_is_new(target))} once")


def _out_of_the_plain(out: Excursion, what: str) -> _Exercise:
    """Return an excursion to be worked at; `what` says what is thrown in it, and how often."""
    why = f"Out of the plain {out.plain.text} that runs, {what} and back."
    # What would be over before that comes is no goal.
    goals: tuple[StepGoal, ...] = ("qualify", "run") if out.times == out.calm == 1 else ("run",)
    two_rounds = 2 * sum(1 for _ in out.round.throws())
    run = SHORT_RUN * -(-two_rounds // SHORT_RUN)
    return _Exercise(out.round, "once", why, goals, run, out)


def _steps(exercise: _Exercise, measure: _Measure) -> Iterator[Step]:
    """Yield a step for each goal of a pattern, the goals in order."""
    pattern = exercise.pattern
    flash = pattern.objects
    # With very many objects, even a short run is longer than to qualify.
    run = max(exercise.run, SHORT_RUN * (2 * flash // SHORT_RUN + 1))
    catches: dict[StepGoal, int] = {"flash": flash, "qualify": 2 * flash, "run": run}
    tempo, hard = measure.tempo_of(pattern), measure.difficulty(exercise)
    for goal in exercise.goals:
        done = catches[goal]
        yield Step(
            pattern, exercise.kind, goal, done, tempo, hard, exercise.why, exercise.excursion
        )
