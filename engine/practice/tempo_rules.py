"""How the tempo moves from set to set when it is planned and does not follow the marks.

A rule of tempo is plain data with the `tempo` of the coming set and an `after` that gives the rule
for the set after it; `throwcount.engine.practice.tempo_rules.Staircase` is the one that follows the
marks.

A tempo that follows the marks, and settles where a juggler is clean a known share of the time.

The transformed up-down rule of Levitt, Transformed up-down methods in psychoacoustics, JASA 49
(1971) 467-477. What is harder here is a faster tempo, so the tempo goes *up* after a number of
clean sets in a row and *down* after a single drop. As many steps go up as down where both are
equally likely, which is where all the sets of such a row are clean half of the time: at a chance
of ``0.5 ** (1 / clean_sets)``, 79.4 % for three.

A *reversal* is a turn from going up to going down, or back. Steps are halved at every reversal,
down to the smallest; what the tempo has settled at is the mean of the reversals since then.

How a juggler marks a set, and how the set counts then.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final, Literal, Protocol, Self, TypeAlias, get_args

from throwcount.engine.errors import TempoError
from throwcount.engine.timing.tempo import FASTEST_TEMPO, SLOWEST_TEMPO, checked_tempo, held_tempo

Mark: TypeAlias = Literal["clean", "drop"]
MARKS: Final[tuple[Mark, ...]] = get_args(Mark)


@dataclass(frozen=True, slots=True)
class Given:
    """A mark, and whether it was heard from the catches and not given by the juggler."""

    mark: Mark
    heard: bool = False


def standing(given: Iterable[Given]) -> list[Given]:
    """Return the marks that stand: when a juggler says "clean", drops heard before are taken back.

    `given` are the marks of a set, in order.
    """
    stand: list[Given] = []
    for each in given:
        if each.mark == "clean" and not each.heard:
            stand = [before for before in stand if not before.heard]
        stand.append(each)
    return stand


def outcome(marks: Iterable[Mark], unmarked: Mark | None = None) -> Mark | None:
    """Return how a set counts: one drop in it makes it a drop, whatever else was marked.

    `marks` are what was marked, in any order. `unmarked` says how a set counts that got no mark;
    None if it does not count.
    """
    given = set(marks)
    return "drop" if "drop" in given else "clean" if given else unmarked


class TempoRule(Protocol):
    """Says how fast the coming set is."""

    @property
    def tempo(self) -> float:
        """Beats a minute of the coming set."""

    def after(self, mark: Mark | None) -> Self:
        """Return the rule after a set that counts as `mark`, None if it does not count."""


@dataclass(frozen=True, slots=True)
class Climb:
    """The tempo moves by the same step from set to set, up or down, and perhaps back again.

    Raises
    ------
    TempoError
        If the start cannot be kept, or it is to turn round at its first set.
    """

    start: float
    """The tempo of the first set, in beats a minute."""
    step: float = 0.0
    """Beats a minute from one set to the next; 0 to stay, less than 0 to slow down."""
    there: int | None = None
    """Number of the set, from zero, at which it turns round; None to go on. When it is back at the
    start it turns again."""
    number: int = 0
    """The number of the coming set, from zero."""

    def __post_init__(self) -> None:
        checked_tempo(self.start)
        if self.there is not None and self.there < 1:
            raise TempoError("There and back again takes at least two sets each way.")

    @property
    def tempo(self) -> float:
        """Beats a minute of the coming set, as near to the plan as can be kept."""
        steps = self.number
        if self.there is not None:
            steps = self.there - abs(self.there - self.number % (2 * self.there))
        return held_tempo(self.start + steps * self.step)

    def after(self, mark: Mark | None) -> "Climb":  # noqa: ARG002 - planned, whatever the mark
        """Return the rule for the set after the coming one."""
        return replace(self, number=self.number + 1)


CLEAN_SETS: Final = 3
LARGEST_STEP: Final = 8.0
SMALLEST_STEP: Final = 2.0
LISTED_REVERSALS: Final = 8
"""How many of the last reversals tell where the tempo has settled, at most."""


@dataclass(frozen=True, slots=True)
class Rule:
    """When the tempo moves, and how far.

    Raises
    ------
    TempoError
        If one of them is out of its range.
    """

    clean_sets: int = CLEAN_SETS
    """Clean sets in a row after which it goes up, at least 1."""
    largest_step: float = LARGEST_STEP
    """The first step, in beats a minute; more than 0."""
    smallest_step: float = SMALLEST_STEP
    """The step that halving it ends with, in beats a minute; more than 0."""
    slowest: float = SLOWEST_TEMPO
    """The tempo below which it never goes, in beats a minute."""
    fastest: float = FASTEST_TEMPO
    """The tempo above which it never goes, in beats a minute."""

    def __post_init__(self) -> None:
        if self.clean_sets < 1:
            raise TempoError(
                f"The tempo goes up after at least 1 clean set in a row, not {self.clean_sets}."
            )
        if not 0 < self.smallest_step <= self.largest_step < math.inf:
            raise TempoError(
                f"Steps of {self.largest_step:g} beats a minute cannot be halved down to "
                f"{self.smallest_step:g}: both must be more than 0, and the first not the smaller."
            )
        if not checked_tempo(self.slowest) <= checked_tempo(self.fastest):
            raise TempoError(
                f"The slowest tempo, {self.slowest:g}, is faster than the fastest, "
                f"{self.fastest:g} beats a minute."
            )

    def step(self, reversals: int) -> float:
        """Return the length of a step after a number of reversals, in beats a minute."""
        return max(self.smallest_step, math.ldexp(self.largest_step, -reversals))

    def within(self, tempo: float) -> float:
        """Return the tempo nearest to `tempo` between the limits."""
        return min(max(tempo, self.slowest), self.fastest)


@dataclass(frozen=True, slots=True)
class Staircase:
    """Where the tempo stands.

    Raises
    ------
    TempoError
        If the tempo lies outside the limits.
    """

    tempo: float
    """The tempo of the coming set, in beats a minute; between the limits of the rule."""
    rule: Rule = Rule()
    """When it moves, and how far."""
    clean_in_a_row: int = 0
    """Clean sets at this tempo since it last moved, or since a drop that a limit held."""
    direction: int = 0
    """Where the last move went: 1 up, -1 down, 0 before the first."""
    reversals: tuple[float, ...] = ()
    """The tempos at which the direction turned, in order."""

    def __post_init__(self) -> None:
        if self.rule.within(self.tempo) != self.tempo:
            raise TempoError(
                f"A tempo of {self.tempo:g} beats a minute lies outside the limits of the "
                f"staircase, {self.rule.slowest:g} to {self.rule.fastest:g}."
            )

    def after(self, mark: Mark | None) -> "Staircase":
        """Return where the tempo stands after a set.

        `mark` says how the set counts; after None nothing has changed.
        """
        if mark is None:
            return self
        if mark == "drop":
            return self._moved(-1)
        row = self.clean_in_a_row + 1
        return self._moved(1) if row == self.rule.clean_sets else replace(self, clean_in_a_row=row)

    @property
    def settled(self) -> float | None:
        """The tempo it has settled at, in beats a minute; None as long as that cannot be told.

        The mean of the last reversals since steps are smallest, as many upper ones as lower.
        """
        reached = self.reversals[self._reversals_of_larger_steps() :]
        even = min(len(reached), LISTED_REVERSALS) // 2 * 2
        return math.fsum(reached[-even:]) / even if even else None

    def _moved(self, direction: int) -> "Staircase":
        """Return the staircase a step on; at a limit the tempo stays, and nothing turns."""
        tempo = self.rule.within(self.tempo + direction * self._step(direction))
        if tempo == self.tempo:
            return replace(self, clean_in_a_row=0)
        turned = self.direction == -direction
        reversals = (*self.reversals, self.tempo) if turned else self.reversals
        return replace(
            self, tempo=tempo, clean_in_a_row=0, direction=direction, reversals=reversals
        )

    def _step(self, direction: int) -> float:
        return self.rule.step(len(self.reversals) + (self.direction == -direction))

    def _reversals_of_larger_steps(self) -> int:
        ratio = self.rule.largest_step / self.rule.smallest_step
        return math.ceil(math.log2(ratio))
