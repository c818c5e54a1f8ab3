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

from throwcount.engine.patterns.flight import FASTEST_DEFAULT, flight_beats
from throwcount.engine.patterns.pattern import (
    HANDS,
    Hand,
    Kind,
    Pattern,
    Throw,
    Throws,
    Turn,
    other_hand,
)
from throwcount.engine.patterns.states import (
    begins_at_once,
    states,
    true_period,
    turns_from_ground,
)

MOST_RATE: Final = FASTEST_DEFAULT / 120
"""Throws a second that a hand can make for long, at the most (common practice)."""


class TurnOfHand(NamedTuple):
    """A turn of one hand."""

    beat: int
    hand: Hand
    throws: Throws
    """What it throws or holds; empty if it has nothing."""


HandTurns: TypeAlias = Sequence[TurnOfHand]
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
    """Objects that it holds on every turn, round and round."""

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
    turns: int
    """Turns of both hands, in one repetition."""
    flights: tuple[float, ...]
    """Beats in the air of each object thrown or held on them; 0 if it does not fly."""
    highest: Throw | None
    """The throw with the longest flight; None if nothing flies."""
    high_in_a_row: int
    """The most throws in a row that are higher than those of the plain pattern."""
    ones_in_a_row: int
    """The most 1s in a row."""
    further: int
    """Objects in a hand that throws beyond the first, over all turns."""
    together: bool
    """Whether both hands throw on one beat."""
    unlike: bool
    """Whether both hands throw on one beat, and not the same."""
    meeting: int
    """Different throws that cross at the same time and height."""
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
) -> list[TurnOfHand]:
    """Return the turns of a pattern, or of a part of one, hand by hand.

    `first` is the hand of the first turn where the hands alternate, and `beat` the beat of it.
    """
    if kind == "sync":
        return [
            TurnOfHand(beat + 2 * index, hand, throws)
            for index, pair in enumerate(turns)
            for hand, throws in zip(HANDS, pair, strict=True)
        ]
    hands = first, other_hand(first)
    return [
        TurnOfHand(beat + index, hands[index % 2], throws) for index, (throws,) in enumerate(turns)
    ]


def work_of_pattern(pattern: Pattern) -> Work:
    """Return what the hands do in a pattern that can be thrown, round and round.

    It is the same from whatever beat the pattern begins, and for its mirror image.
    """
    turns = pattern.turns[: true_period(pattern) // pattern.beats_per_turn]
    acts = [_act(throws) for turn in turns for throws in turn]
    swaps = pattern.kind == "async" and len(acts) % 2 == 1
    of_one, of_other = ((acts * 2)[::2], []) if swaps else (acts[::2], acts[1::2])
    beats = range(0, 2 * len(of_one), 2)
    one = _hand_work(beats, of_one, round_in=2 * len(of_one))
    # Where the hands swap, both do the same.
    other = one if swaps else _hand_work(beats, of_other, round_in=2 * len(of_one))
    if pattern.kind == "async":
        return _work(acts, [], (one, other), pattern.objects, _entry(pattern))
    pairs = list(zip(of_one, of_other, strict=True))
    return _work(acts, pairs, (other, one), pattern.objects, _entry(pattern))


def work_of_turns(turns: HandTurns, objects: int) -> Work:
    """Return what the hands do in a row of throws that is made once, with so many objects."""
    hands: dict[Hand, HandWork] = {}
    for hand in HANDS:
        own = [turn for turn in turns if turn.hand == hand]
        hands[hand] = _hand_work([turn.beat for turn in own], [_act(turn.throws) for turn in own])
    acts = [_act(turn.throws) for turn in turns]
    pairs = [
        (_act(turn.throws), _act(after.throws))
        for turn, after in pairwise(turns)
        if turn.beat == after.beat
    ]
    return _work(acts, pairs, (hands["right"], hands["left"]), objects, None)


def _work(
    acts: list["_Act"],
    pairs: list[tuple["_Act", "_Act"]],
    hands: tuple[HandWork, HandWork],
    objects: int,
    entry: int | None,
) -> Work:
    """Return the work of both hands.

    `acts` are all acts in order, `pairs` those on the same beat, `hands` the work of the right hand
    and of the left. `entry` is as in `Work`, and None for throws that are made once.
    """
    values = [act.value for act in acts]
    flights = [flight for act in acts for flight in act.flights]
    longest = max(flights, default=0.0)
    endless = entry is not None
    return Work(
        objects=objects,
        right=hands[0],
        left=hands[1],
        turns=len(acts),
        flights=tuple(flights),
        highest=next(act.highest for act in acts if longest in act.flights) if longest else None,
        high_in_a_row=_longest_row([value > objects for value in values], endless=endless),
        ones_in_a_row=_longest_row([value == 1 for value in values], endless=endless),
        further=sum([len(act.throws) - 1 for act in acts if act.thrown]),
        together=any(one.thrown and other.thrown for one, other in pairs),
        unlike=any(one.thrown and other.thrown and one != other for one, other in pairs),
        meeting=len(set().union(*[_crossing_in_both(one, other) for one, other in pairs])),
        entry=entry or 0,
    )


def _hand_work(
    turns: Sequence[int], acts: Sequence["_Act"], round_in: int | None = None
) -> HandWork:
    """Return the work of one hand that acts on the beats `turns`.

    `round_in` is after how many beats it all begins again; None if it is done once.
    """
    beats = [beat for beat, act in zip(turns, acts, strict=True) if act.thrown]
    gaps = [later - beat for beat, later in pairwise(beats)]
    if beats and round_in is not None:
        gaps.append(beats[0] + round_in - beats[-1])
    return HandWork(
        turns=len(turns),
        throws=len(beats),
        holds=sum([act.held > 0 and not act.thrown for act in acts]),
        gap=min(gaps, default=None),
        acts=frozenset([act.throws for act in acts if act.throws]),
        at_once=max([len(act.throws) for act in acts if act.thrown], default=0),
        kept=0 if round_in is None else min([act.held for act in acts], default=0),
    )


class _Act(NamedTuple):
    """What a hand makes at once."""

    throws: Throws
    """Its throws, from the lowest up, as their order in a multiplex means nothing."""
    flights: tuple[float, ...]
    """Beats in the air of each; 0 for a hold and for a throw too low to fly."""
    value: int
    """The highest throw value; 0 for an empty hand."""
    highest: Throw | None
    """The throw with the longest flight; None if nothing flies."""
    thrown: int
    """How many objects leave the hand."""
    held: int
    """How many stay in it."""


@cache
def _act(throws: Throws) -> _Act:
    ordered = tuple(sorted(throws, key=lambda throw: (throw.value, throw.crossed)))
    flights = tuple(flight_beats(each.value, crossed=each.crossed) or 0.0 for each in ordered)
    held = sum(throw.held for throw in ordered)
    longest = max(flights, default=0.0)
    return _Act(
        throws=ordered,
        flights=flights,
        value=max((throw.value for throw in ordered), default=0),
        highest=ordered[flights.index(longest)] if longest else None,
        thrown=len(ordered) - held,
        held=held,
    )


def _longest_row(wanted: list[bool], *, endless: bool) -> int:
    if True not in wanted:
        return 0
    longest = row = 0
    for each in wanted * 2 if endless else wanted:
        row = row + 1 if each else 0
        longest = max(longest, row)
    return min(longest, len(wanted))


def _crossing_in_both(one: _Act, other: _Act) -> set[Throw]:
    return {throw for throw in one.throws if throw.crossed and throw in other.throws}


def _entry(pattern: Pattern) -> int:
    """Return the fewest throws from the ground state to any state of the pattern.

    A multiplex pattern, or one with gaps, may need none outside the ground state: it is begun from
    the hands, where each just throws what it holds, turn by turn.
    """
    gaps = any(not throws for turn in pattern.turns for throws in turn)
    if pattern.kind == "async" and not pattern.multiplex:
        entry = pattern.objects - _gapless(pattern)
        if not (entry and gaps):
            return entry
    every = set(states(pattern))
    if (gaps or pattern.multiplex) and any(map(begins_at_once, every)):
        return 0
    return min([turns_from_ground(one, pattern.objects) for one in every])


def _gapless(pattern: Pattern) -> int:
    """Return the most objects that are ever due beat by beat, without a gap."""
    # The first landing of the throws to come is the first beat on which no object is due yet.
    landings = [
        beat + (throws[0].value if throws else 0) for beat, (throws,) in enumerate(pattern.turns)
    ]
    earliest = min(landings) + pattern.period
    gapless = 0
    for beat in range(len(landings) - 1, -1, -1):
        earliest = min(earliest, landings[beat])
        gapless = max(gapless, earliest - beat)
    return gapless
