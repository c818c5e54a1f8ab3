"""Ranking: which patterns a coach would name first.

The order is that of an *effort*: how hard a pattern is (`throwcount.engine.hands.difficulty`), but
no less than the plain pattern of as many objects, which is learnt first; and what else keeps it
from being named. All of it rests on common practice among jugglers, and none was measured:

*told*
    Patterns have names, and families, because they are told in few words: four, four, one; nine
    down to one by twos. Each further thing to tell weighs as much as one object more.
*whole*
    A pattern that passes a state again strings shorter patterns together, and a coach would name
    those. It weighs little, as some are well known: 423 is 42 and a 3.
*busy*
    Holds and empty hands are rest. What rests all the time weighs as much again as the plain
    pattern of as many objects, except the plain pattern itself, which may be a 2.
*gaps*
    A pattern with an empty hand is a step towards one with more objects, rather than one of its
    own. It weighs as much as one object more.
*rising*
    Patterns are written with the highest throw first, so that a row of throws which falls by steps
    can be heard in what is written (741), and one which rises is broken (471 is 1 4 7). It weighs
    little.
*crossing*
    Of pairs, those that go straight up come before those that cross: what crosses has to pass what
    comes from the other hand, above all if both hands do it at once. It weighs little.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import heapify, heappush, heappushpop
from typing import Final

from throwcount.engine.hands.difficulty import Difficulty, difficulty
from throwcount.engine.hands.work import Work
from throwcount.engine.patterns.pattern import Pattern, Turn, rotations, swapped
from throwcount.engine.patterns.states import states, turns_from_ground

TOLD: Final = 1.0
"""Effort for each thing to tell beyond the first."""

AGAIN: Final = 0.25
"""Effort for each state that was passed before."""

REST: Final = 1.0
"""Effort for each object, times the share of turns on which a hand throws nothing."""

GAP: Final = 1.0
"""Effort if a hand is ever empty."""


RISING: Final = 0.01
"""Effort if a row of throws rises by steps."""

CROSSING: Final = 0.05
"""Effort if all throws of pairs cross, and as much again if both hands do it at once."""


@dataclass(frozen=True, slots=True)
class Worth:
    """What speaks for a pattern, and against it."""

    objects: int
    difficulty: float
    """The number of its difficulty: N for the plain pattern of N objects."""
    told: int
    """Things to tell: a row of equal throws, a step from throw to throw, or a throw each count as
    one, and a group that comes again counts once."""
    whole: float
    """The share of states that are different: 1 for a prime pattern."""
    busy: float
    """The share of turns on which a hand throws, neither empty nor just holding (a 2)."""
    gaps: bool
    """Whether a hand is ever empty."""
    rising: bool
    """Whether three throws or more rise by the same step."""
    crossing: float
    """The share of throws that cross, each with the square of its value as its weight, plus the
    share of pairs that both cross, 0 to 2; 0 where the hands alternate."""
    varied: float
    """The number of different throws, as a share of all its throws, or of all that the highest
    throw allows if these are fewer; empty hands are not throws. It does not enter the effort."""
    near: float
    """1 if it begins in the ground state, less for each throw that it takes to get there, as a
    share of the objects. It enters the effort through the difficulty."""
    effort: float
    """The effort; the less, the sooner a coach would name the pattern."""

    @property
    def worth(self) -> float:
        """What the pattern is worth: 1 for a plain one of 3 objects or more, less for others."""
        return self.objects / self.effort if self.effort else 1.0


def worth(pattern: Pattern, highest: int) -> Worth:
    """Return what a pattern that can be thrown is worth.

    `highest` is the highest throw that it might have had, at least its own.
    """
    found = difficulty(pattern)
    every = list(states(pattern))
    return Worth(
        objects=pattern.objects,
        difficulty=found.number,
        told=things_to_tell(pattern),
        whole=len(set(every)) / len(every),
        busy=_busy(found.work),
        gaps=_has_gaps(found.work),
        rising=_rises(pattern),
        crossing=_crossing(pattern),
        varied=_varied(pattern, highest),
        near=1 - turns_from_ground(every[0], pattern.objects) / max(pattern.objects, 1),
        effort=_least_effort(pattern, found) + _further_effort(pattern),
    )


def _least_effort(pattern: Pattern, found: Difficulty) -> float:
    """Return the effort as far as it is found at once; the rest is never less than 0."""
    work = found.work
    hard = max(found.number, work.objects)
    if len({throws for turn in pattern.turns for throws in turn}) == 1 and not pattern.multiplex:
        return hard  # a plain pattern
    rest = REST * work.objects * (1 - _busy(work))
    return hard + rest + GAP * _has_gaps(work) + TOLD * (len(set(pattern.turns)) > 1)


def _further_effort(pattern: Pattern) -> float:
    again = len(pattern.turns) - len(set(states(pattern)))
    known = 2 if len(set(pattern.turns)) > 1 else 1
    little = RISING * _rises(pattern) + CROSSING * _crossing(pattern)
    return TOLD * (things_to_tell(pattern) - known) + AGAIN * again + little


def _rises(pattern: Pattern) -> bool:
    if pattern.kind == "sync" or pattern.multiplex or len(pattern.turns) < 3:  # noqa: PLR2004 - a row
        return False
    row = [throws[0].value if throws else 0 for (throws,) in pattern.turns]
    return any(
        row[beat] - row[beat - 1] == row[beat - 1] - row[beat - 2] > 0 for beat in range(len(row))
    )


def _crossing(pattern: Pattern) -> float:
    if pattern.kind == "async" or not pattern.total:
        return 0.0
    squares = [(throw.value**2, throw.crossed) for _, throw in pattern.throws()]
    across = sum(square for square, crossed in squares if crossed)
    both = [all(any(one.crossed for one in throws) for throws in turn) for turn in pattern.turns]
    return across / sum(square for square, _ in squares) + sum(both) / len(both)


def _busy(work: Work) -> float:
    hands = work.hands
    return sum([hand.throws for hand in hands]) / sum([hand.turns for hand in hands])


def _has_gaps(work: Work) -> bool:
    return any(hand.empty for hand in work.hands)


def _varied(pattern: Pattern, highest: int) -> float:
    made = {throw for _, throw in pattern.throws()}
    throws = sum(1 for _ in pattern.throws())
    possible = highest // pattern.beats_per_turn * pattern.places
    return len(made) / max(min(throws, possible), 1)


class Ranking:
    """The patterns of least effort among those added so far.

    Of equal ones, that which begins nearest to the ground state comes first, then that which stays
    nearest to it, the one with fewer throws that are written as crossing, the shorter one, and the
    one that is written with higher throws first.

    `size` is how many patterns to keep, at least 1. `highest` is the highest throw that they might
    have had. `every_start` says whether the rotations of a pattern are patterns of their own. If
    not, only one of two synchronous patterns that mirror each other is kept.
    """

    def __init__(self, size: int, highest: int, *, every_start: bool = False) -> None:
        self._size, self._highest, self._every_start = size, highest, every_start
        self._kept: list[_Ranked] = []
        self._added = 0

    def add(self, pattern: Pattern) -> None:
        """Take one more pattern into account."""
        self._added += 1
        found = difficulty(pattern)
        effort = _least_effort(pattern, found)
        full = len(self._kept) == self._size
        if full and effort > self._kept[0].effort:
            return
        effort += _further_effort(pattern)
        if full and effort > self._kept[0].effort + ROUNDING:
            return
        one = _Ranked(effort, _tie_break(pattern), pattern, self._added)
        twin = None if self._every_start else _mirror_twin(pattern, self._kept)
        if twin is None:
            (heappushpop if full else heappush)(self._kept, one)
        elif twin < one:
            self._kept[self._kept.index(twin)] = one
            heapify(self._kept)

    def ranked(self) -> list[tuple[Pattern, Worth]]:
        """Return the patterns kept, best first."""
        best = sorted(self._kept, reverse=True)
        return [(one.pattern, worth(one.pattern, self._highest)) for one in best]


ROUNDING: Final = 1e-9
"""Efforts that differ by less are equal."""


@dataclass(frozen=True, slots=True)
class _Ranked:
    effort: float
    tie_break: tuple[int, int, int, int, Sequence[int]]
    pattern: Pattern
    order: int

    def __lt__(self, other: "_Ranked") -> bool:
        """Return whether this one is worth less."""
        if abs(self.effort - other.effort) > ROUNDING:
            return self.effort > other.effort
        return (self.tie_break, self.order) > (other.tie_break, other.order)


def _tie_break(pattern: Pattern) -> tuple[int, int, int, int, Sequence[int]]:
    ways = [turns_from_ground(one, pattern.objects) for one in states(pattern)]
    throws = [throw for _, throw in pattern.throws()]
    crossing = sum(throw.crossed for throw in throws)
    return ways[0], sum(ways), crossing, pattern.period, [-throw.value for throw in throws]


def _mirror_twin(pattern: Pattern, kept: list[_Ranked]) -> _Ranked | None:
    """Return the synchronous pattern that is this one with the hands swapped, if it was kept."""
    if pattern.kind == "async":
        return None
    mirrors = set(rotations(swapped(pattern.turns)))
    return next((other for other in kept if other.pattern.turns in mirrors), None)


def things_to_tell(pattern: Pattern) -> int:
    """Return how many things tell a pattern from one beat on, at the least.

    A throw is one thing, and so is a row of equal ones. Three throws or more that rise or fall by
    the same step are two, the first throw and the step. Both hands of a pair that do the same are
    told at once, and a multiplex by its different throws. A group that comes twice or more at once
    is told once, as is what is repeated with the hands swapped (``*``). So 441 and 97531 take two
    things, 75751 three, and 7463 four.
    """
    turns = pattern.turns
    if pattern.text.endswith("*"):
        turns = turns[: len(turns) // 2]
    stepped = pattern.kind == "async" and not pattern.multiplex
    known: dict[Turn, int] = {}
    row = [
        turn[0][0].value if stepped and turn[0] else known.setdefault(turn, -len(known))
        for turn in turns
    ]
    things = dict(zip(row, map(_things_in_turn, turns), strict=True))
    changes = [beat for beat in range(len(row)) if row[beat] != row[beat - 1]]
    return min([_told(row[beat:] + row[:beat], things, stepped=stepped) for beat in changes or [0]])


def _things_in_turn(turn: Turn) -> int:
    return sum(max(len(set(throws)), 1) for throws in set(turn))


def _told(row: list[int], things: dict[int, int], *, stepped: bool) -> int:
    """Return the things that tell a row; `things` has those that tell each turn alone."""
    fewest = [0]
    for turn in row:
        fewest.append(fewest[-1] + things[turn])
    for begin in range(len(row)):
        for end, more in _groups(row, things, begin, stepped=stepped):
            fewest[end] = min(fewest[end], fewest[begin] + more)
    return fewest[-1]


def _groups(
    row: list[int], things: dict[int, int], begin: int, *, stepped: bool
) -> Iterator[tuple[int, int]]:
    """Yield where each group that begins here may end, and the things that tell it."""
    end = begin + 1
    yield end, things[row[begin]]
    while end < len(row) and row[end] == row[begin]:
        end += 1
        yield end, things[row[begin]]
    step = row[begin + 1] - row[begin] if begin + 1 < len(row) else 0
    end = begin + 2
    while stepped and step and end < len(row) and row[end] - row[end - 1] == step:
        end += 1
        yield end, 2
    for size in range(2, (len(row) - begin) // 2 + 1):
        group = row[begin : begin + size]
        end = begin + size
        while row[end : end + size] == group:
            end += size
            yield end, sum([things[turn] for turn in group])
