"""Marks, and the rules by which the tempo moves from set to set: `Climb` and `Staircase`.

A rule is plain data: it has the `tempo` of the coming set, and its `after` gives the rule for the
set after that. A `Climb` is planned and ignores the marks. A `Staircase` follows them and settles
at the tempo at which a juggler is clean a known share of the time.

The staircase is the transformed up-down method (Levitt, Transformed up-down methods in
psychoacoustics, JASA 49 (1971) 467-477). A faster tempo is harder, so the tempo goes *up* after a
number of clean sets in a row and *down* after a single drop. It settles where both are equally
likely, so that a whole row of sets is clean half of the time: where each set is clean with a
chance of ``0.5 ** (1 / clean_sets)``, 79.4 % for three.

A *reversal* is a change from going up to going down, or back. Until the first one, a single clean
set is enough to go up, so that large steps soon come near. The step is halved at every reversal,
down to the smallest. The staircase has settled once it has turned both ways at the smallest step;
the tempo that it has settled at is the mean of the reversals there.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final, Literal, Protocol, Self, TypeAlias, get_args

from throwcount.engine.errors import TempoError
from throwcount.engine.timing.tempo import FASTEST_TEMPO, SLOWEST_TEMPO, checked_tempo, held_tempo

Mark: TypeAlias = Literal["clean", "drop"]
MARKS: Final[tuple[Mark, ...]] = get_args(Mark)


Source: TypeAlias = Literal["key", "pedal", "microphone"]
SOURCES: Final[tuple[Source, ...]] = get_args(Source)
"""What gives a mark: a key of its own, the one pedal that means all, or the catches heard."""


@dataclass(frozen=True, slots=True)
class Given:
    """A mark, and what it was given by."""

    mark: Mark
    source: Source = "key"

    @property
    def heard(self) -> bool:
        """Whether it comes from the catches and not from the juggler."""
        return self.source == "microphone"


def standing(given: Iterable[Given]) -> list[Given]:
    """Return the marks of a set that stand, in order.

    When the juggler says "clean", drops before it are taken back that were heard, or that the one
    pedal gave, whose first press always tells of a drop.
    """
    stand: list[Given] = []
    for each in given:
        if each.mark == "clean" and not each.heard:
            stand = [before for before in stand if before.source == "key"]
        stand.append(each)
    return stand


def outcome(marks: Iterable[Mark], unmarked: Mark | None = None) -> Mark | None:
    """Return how a set with these marks counts: as a drop if any of them is one.

    A set without marks counts as `unmarked`; None means that it does not count.
    """
    given = set(marks)
    return "drop" if "drop" in given else "clean" if given else unmarked


class TempoRule(Protocol):
    """The tempo of the coming set, and how it follows from the marks."""

    @property
    def tempo(self) -> float:
        """Beats a minute of the coming set."""

    def after(self, mark: Mark | None) -> Self:
        """Return the rule after a set that counts as `mark`; None if it does not count."""


@dataclass(frozen=True, slots=True)
class Climb:
    """A tempo that moves by the same step from set to set, up or down, and perhaps back again.

    Raises
    ------
    TempoError
        If the start is out of range, or the tempo turns round at the first set.
    """

    start: float
    """The tempo of the first set, in beats a minute."""
    step: float = 0.0
    """Beats a minute from one set to the next; 0 to stay, less than 0 to slow down."""
    turning_set: int | None = None
    """The set, from zero, at which it turns round, to do so again at the start; None to go on."""
    number: int = 0
    """The number of the coming set, from zero."""

    def __post_init__(self) -> None:
        checked_tempo(self.start)
        if self.turning_set is not None and self.turning_set < 1:
            raise TempoError("There and back again takes at least two sets each way.")

    @property
    def tempo(self) -> float:
        """Beats a minute of the coming set, kept in range."""
        steps = self.number
        if (turn := self.turning_set) is not None:
            steps = turn - abs(turn - self.number % (2 * turn))
        return held_tempo(self.start + steps * self.step)

    def after(self, mark: Mark | None) -> "Climb":  # noqa: ARG002 - planned, whatever the mark
        """Return the rule for the set after the coming one."""
        return replace(self, number=self.number + 1)


CLEAN_SETS: Final = 3
LARGEST_STEP: Final = 16.0
SMALLEST_STEP: Final = 4.0
"""The steps were chosen by simulation (`tests/benchmarks/bench_staircase.py`): of those that settle
in time and near the published level, these are the gentlest."""

FIRST_CLIMB: Final = 3.0
"""Sets that the first reversal takes on average, in the same simulation."""

LISTED_REVERSALS: Final = 8
"""How many of the last reversals tell where the tempo has settled, at most."""


@dataclass(frozen=True, slots=True)
class Rule:
    """When the tempo of a staircase moves, and how far.

    Raises
    ------
    TempoError
        If a value is out of range.
    """

    clean_sets: int = CLEAN_SETS
    """Clean sets in a row after which it goes up, at least 1; until the first reversal, 1 does."""
    largest_step: float = LARGEST_STEP
    """The first step, in beats a minute; more than 0."""
    smallest_step: float = SMALLEST_STEP
    """The step at which halving stops, in beats a minute; more than 0."""
    slowest: float = SLOWEST_TEMPO
    """The lowest tempo, in beats a minute."""
    fastest: float = FASTEST_TEMPO
    """The highest tempo, in beats a minute."""

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

    @property
    def level(self) -> float:
        """The share of clean sets at the tempo that it settles at (Levitt 1971)."""
        return float(0.5 ** (1 / self.clean_sets))

    @property
    def halvings(self) -> int:
        """The number of reversals that bring the step down to the smallest."""
        return math.ceil(math.log2(self.largest_step / self.smallest_step))

    def step(self, reversals: int) -> float:
        """Return the length of a step after a number of reversals, in beats a minute."""
        return max(self.smallest_step, math.ldexp(self.largest_step, -reversals))

    def within(self, tempo: float) -> float:
        """Return the tempo nearest to `tempo` between the limits."""
        return min(max(tempo, self.slowest), self.fastest)


@dataclass(frozen=True, slots=True)
class Staircase:
    """A tempo that follows the marks.

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
    """Clean sets at this tempo since it last moved, or since a drop at the slowest tempo."""
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
        """Return the staircase after a set that counts as `mark`; None changes nothing."""
        if mark is None:
            return self
        if mark == "drop":
            return self._moved(-1)
        row = self.clean_in_a_row + 1
        enough = self.rule.clean_sets if self.reversals else 1
        return self._moved(1) if row >= enough else replace(self, clean_in_a_row=row)

    @property
    def settled(self) -> float | None:
        """The tempo it has settled at, in beats a minute; None until that is known.

        It is the mean of the last reversals at the smallest step, as many upper ones as lower.
        """
        reached = self.reversals[self.rule.halvings :]
        even = min(len(reached), LISTED_REVERSALS) // 2 * 2
        return math.fsum(reached[-even:]) / even if even else None

    @property
    def likely_sets(self) -> int:
        """How many more sets it is likely to need until it has settled; 0 once it has.

        Where moves up and down are equally likely, one in two is a reversal, and reversals are
        ``1 / (1 - level)`` sets apart: 4.9 for three clean sets in a row. Simulated jugglers
        needed about as many as this says on average, and eight in ten at most four more. At a limit
        of the rule it may take any number.
        """
        left = self.rule.halvings + 2 - len(self.reversals)
        if left <= 0:
            return 0
        first = not self.reversals
        sets = FIRST_CLIMB * first + (left - first) / (1 - self.rule.level)
        # A row begun after a drop leads to a reversal.
        begun = self.clean_in_a_row if self.direction < 0 else 0
        return max(1, math.floor(sets) - begun)

    def _moved(self, direction: int) -> "Staircase":
        """Return the staircase one step on; at a limit the tempo stays, without a reversal."""
        turned = self.direction == -direction
        step = self.rule.step(len(self.reversals) + turned)
        tempo = self.rule.within(self.tempo + direction * step)
        if tempo == self.tempo:
            return replace(self, clean_in_a_row=0)
        reversals = (*self.reversals, self.tempo) if turned else self.reversals
        return replace(
            self, tempo=tempo, clean_in_a_row=0, direction=direction, reversals=reversals
        )
