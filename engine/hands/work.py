"""What hands do: holds, empty turns, rests between throws, and rows of throws.

A hand's *turn* is a beat on which it may throw: every second beat, unless it hurries or waits at
a change of timing. On its turn a hand throws, holds (a 2) or is empty (a 0). What a hand makes at
once is an *act*: a hold, one throw, or several (a multiplex).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Final, NamedTuple, TypeAlias

from throwcount.engine.patterns.flight import flight_beats
from throwcount.engine.patterns.pattern import (
    HIGHEST_VALUE,
    Hand,
    Kind,
    Pattern,
    Throw,
    Throws,
    Turn,
    other_hand,
)
from throwcount.engine.patterns.states import State, states, true_period, turns_from_ground

LONGEST_ROW: Final = 5
"""Throws of a row that are counted, so that an endless row, as in a plain 1, has a length."""


class HandTurn(NamedTuple):
    """A turn of one hand."""

    beat: int
    hand: Hand
    throws: Throws
    """What it throws or holds; empty if it has nothing."""


HandTurns: TypeAlias = Sequence[HandTurn]
"""Turns in the order of their beats."""


@dataclass(frozen=True, slots=True)
class HandWork:
    """What one hand does in a row of throws."""

    turns: int
    """Its turns."""
    throws: int
    """Turns on which it throws."""
    holds: int
    """Turns on which it only holds."""
    gap: int | None
    """Fewest beats between two of its throws; None if it throws less than twice."""
    acts: frozenset[Throws]
    """The different acts that it makes."""
    at_once: int
    """The most objects in it when it throws."""
    kept: int
    """Objects that it holds on every turn."""

    @property
    def empty(self) -> int:
        """Turns on which it holds nothing."""
        return self.turns - self.throws - self.holds


@dataclass(frozen=True, slots=True)
class Work:
    """What both hands do in a row of throws, which may come round again without end."""

    objects: int
    """Objects in the hands and in the air."""
    right: HandWork
    left: HandWork
    flights: tuple[float, ...]
    """Beats in the air of each throw, in order; 0 for a hold and for a throw too low to fly."""
    highest: Throw | None
    """The throw with the longest flight; None if nothing flies."""
    high_in_a_row: int
    """The most throws in a row that are higher than those of the plain pattern."""
    ones_in_a_row: int
    """The most 1s in a row."""
    meeting: bool
    """Whether two objects cross at the same time and height."""
    entry: int
    """Throws that it takes from the plain pattern to the nearest beat of this one."""

    @property
    def hands(self) -> tuple[HandWork, HandWork]:
        """The work of the right hand and of the left."""
        return self.right, self.left

    @property
    def kept(self) -> int:
        """Objects that the hands hold all the time."""
        return self.right.kept + self.left.kept

    @property
    def turns(self) -> int:
        """The turns of both hands."""
        return self.right.turns + self.left.turns

    def closest_rate(self, tempo: float) -> float:
        """Return the throws a second of a hand where they follow most closely."""
        gaps = [hand.gap for hand in self.hands if hand.gap]
        return tempo / 60 / min(gaps) if gaps else 0.0

    def mean_rate(self, tempo: float) -> float:
        """Return the throws a second of the busier hand over all its turns."""
        return max([tempo / 120 * hand.throws / max(hand.turns, 1) for hand in self.hands])

    @property
    def at_once(self) -> int:
        """The most objects in a hand when it throws."""
        return max(self.right.at_once, self.left.at_once)


def hand_turns(
    kind: Kind, turns: Iterable[Turn], first: Hand = "right", beat: int = 0
) -> list[HandTurn]:
    """Return the turns of a pattern, or of a part of one, hand by hand.

    `first` is the hand of the first turn where the hands alternate, and `beat` the beat of it.
    """
    if kind == "sync":
        return [
            HandTurn(beat + 2 * index, hand, throws)
            for index, pair in enumerate(turns)
            for hand, throws in zip(_PAIR, pair, strict=True)
        ]
    hands = first, other_hand(first)
    return [
        HandTurn(beat + index, hands[index % 2], throws) for index, (throws,) in enumerate(turns)
    ]


def work_of_pattern(pattern: Pattern) -> Work:
    """Return what the hands do in a pattern that can be thrown, round and round.

    It is the same from whatever beat the pattern begins, and for its mirror image.
    """
    turns = pattern.turns[: true_period(pattern) // pattern.beats_per_turn]
    whole = turns * 2 if pattern.kind == "async" and len(turns) % 2 else turns
    made = hand_turns(pattern.kind, whole)
    return _work(made, pattern.objects, len(whole) * pattern.beats_per_turn, _entry(pattern))


def work_of_turns(turns: HandTurns, objects: int) -> Work:
    """Return what the hands do in a row of throws that is made once, with so many objects."""
    return _work(turns, objects, None, 0)


def _work(made: HandTurns, objects: int, period: int | None, entry: int) -> Work:
    throws = [throw for _, _, several in made for throw in several]
    flights = [_flight(throw.value, throw.crossed) for throw in throws]
    longest = max(flights, default=0.0)
    values = [max((throw.value for throw in several), default=0) for _, _, several in made]
    endless = period is not None
    return Work(
        objects=objects,
        right=_hand_work([turn for turn in made if turn.hand == "right"], period),
        left=_hand_work([turn for turn in made if turn.hand == "left"], period),
        flights=tuple(flights),
        highest=throws[flights.index(longest)] if longest else None,
        high_in_a_row=_longest_row([value > objects for value in values], endless),
        ones_in_a_row=_longest_row([value == 1 for value in values], endless),
        meeting=_meeting(made),
        entry=entry,
    )


def _hand_work(turns: HandTurns, period: int | None) -> HandWork:
    beats = []
    holds = at_once = 0
    kept = HIGHEST_VALUE
    acts = set()
    for beat, _, throws in turns:
        held = sum([throw.held for throw in throws])
        kept = min(kept, held)
        if not throws:
            continue
        acts.add(throws if len(throws) == 1 else tuple(sorted(throws, key=_ranked)))
        if held == len(throws):
            holds += 1
        else:
            beats.append(beat)
            at_once = max(at_once, len(throws))
    gaps = [later - beat for beat, later in pairwise(beats)]
    if beats and period is not None:
        gaps.append(beats[0] + period - beats[-1])
    return HandWork(
        turns=len(turns),
        throws=len(beats),
        holds=holds,
        gap=min(gaps, default=None),
        acts=frozenset(acts),
        at_once=at_once,
        kept=kept if turns else 0,
    )


@cache
def _flight(value: int, crossed: bool) -> float:
    return flight_beats(value, crossed=crossed) or 0.0


def _ranked(throw: Throw) -> tuple[int, bool]:
    return throw.value, throw.crossed


def _longest_row(wanted: list[bool], endless: bool) -> int:
    longest = row = 0
    for each in wanted * 2 if endless and True in wanted else wanted:
        row = row + 1 if each else 0
        longest = max(longest, row)
    return min(longest, LONGEST_ROW)


def _meeting(made: HandTurns) -> bool:
    """Return whether both hands make the same crossing throw on one beat."""
    return any(
        turn.beat == other.beat and throw.crossed and throw in other.throws
        for turn, other in pairwise(made)
        for throw in turn.throws
    )


def _entry(pattern: Pattern) -> int:
    """Return the fewest throws from the ground state to any state of the pattern.

    A pattern that begins with several objects in a hand needs none if that hand throws first.
    """
    if pattern.kind == "sync" or pattern.multiplex:
        every = set(states(pattern))
        if pattern.multiplex and any(map(_from_full_hands, every)):
            return 0
        return min([turns_from_ground(one, pattern.objects) for one in every])
    # The first landing of the throws to come is the first beat on which no object is due yet.
    landings = [
        beat + (throws[0].value if throws else 0) for beat, (throws,) in enumerate(pattern.turns)
    ]
    earliest = min(landings) + pattern.period
    gapless = 0
    for beat in range(len(landings) - 1, -1, -1):
        earliest = min(earliest, landings[beat])
        gapless = max(gapless, earliest - beat)
    return pattern.objects - gapless


def _from_full_hands(one: State) -> bool:
    """Return whether objects are due without a gap, so that the hands just throw what they hold."""
    lengths = [len(due) for due in one]
    return all(0 not in due for due in one) and max(lengths) - min(lengths) <= 1


_PAIR: Final[tuple[Hand, Hand]] = ("left", "right")
"""The hands of a pair, in the order in which it is written."""
