"""Bridges: the shortest sequences of throws from one pattern into another without a stop.

A bridge begins in a state of the first pattern and ends in a state of the second. Its hands
throw no more objects at once than the two patterns do. If the hands alternate in only one of the
patterns, one hand waits or hurries a beat on the way (`throwcount.engine.search.timing_change`).
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import chain, islice, product
from typing import Final, NamedTuple

from throwcount.engine.errors import EngineError
from throwcount.engine.hands.difficulty import difficulty_of_throws
from throwcount.engine.hands.work import TurnOfHand, hand_turns
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.flight import default_tempo
from throwcount.engine.patterns.pattern import (
    HANDS,
    HELD_VALUE,
    HIGHEST_VALUE,
    Hand,
    Kind,
    Pattern,
    Throw,
    Throws,
    Turn,
    beats_per_turn,
    other_hand,
    other_kind,
    written_turn,
)
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.states import State, ground_states, state, states
from throwcount.engine.search.timing_change import (
    Grid,
    TimingChange,
    as_turns,
    can_fill,
    filled,
    grids,
    landings,
)
from throwcount.engine.search.walks import can_lead, gentlest, walks

MOST_PAIRS: Final = 40_000
"""Pairs of a state to leave and a state to enter that are compared, at most."""

WAYS_TO_CHANGE: Final = 8
"""How much longer a pair takes if the timing changes, as that may happen on different beats."""

MOST_COMPARED: Final = 200
"""Bridges that are put in order of difficulty, at most; those with the lowest throws come first."""


LONGEST_CHANGE: Final = 4
"""Beats that a change of timing may take once every object has been thrown, at most."""


class BridgeError(EngineError):
    """Two patterns have no bridge between them."""


@dataclass(frozen=True, slots=True)
class Bridge:
    """A sequence of throws from one pattern to another."""

    kind: Kind
    """The kind of the pattern that is left."""
    objects: int
    """How many objects both have."""
    turns: tuple[Turn, ...]
    """The throws, up to the change of timing if there is one; none if they are not needed."""
    from_rotation: int
    """The beat of the first pattern at which it is left; 0 as it is written."""
    to_rotation: int
    """The beat of the second pattern at which it is entered; 0 as it is written."""
    first: Hand | None = None
    """The hand of the first beat; None if both hands throw on it."""
    change: TimingChange | None = None
    """How the hands go over to the timing of the second pattern; None if it is the same."""

    @property
    def throws(self) -> tuple[str, ...]:
        """Each turn in notation."""
        before = (written_turn(self.kind, turn) for turn in self.turns)
        after = () if self.change is None else self.change.turns
        return *before, *(written_turn(other_kind(self.kind), turn) for turn in after)

    @property
    def beats(self) -> int:
        """Its length in beats."""
        if self.change is not None:
            return self.change.beats
        return len(self.turns) * beats_per_turn(self.kind)

    def hand_at(self, beat: int) -> Hand | None:
        """Return the hand whose turn a beat is, or would be after the end; None if it is both."""
        start, first = (
            (0, self.first) if self.change is None else (self.change.start, self.change.first)
        )
        return other_hand(first) if first is not None and (beat - start) % 2 else first

    def by_hand(self) -> Iterator[tuple[int, dict[Hand, Throws]]]:
        """Yield each beat with what the hands whose turn it is throw; none between two pairs."""
        rows: dict[int, dict[Hand, Throws]] = {beat: {} for beat in range(self.beats)}
        _put(rows, self.turns, 0, self.first)
        if self.change is not None:
            _put(rows, self.change.turns, self.change.start, self.change.first)
        return iter(rows.items())


def _put(
    rows: dict[int, dict[Hand, Throws]], turns: tuple[Turn, ...], start: int, first: Hand | None
) -> None:
    """Enter turns from beat `start` on; `first` is the hand of that beat, None for both."""
    for number, turn in enumerate(turns):
        if len(turn) > 1 or first is None:
            rows[start + 2 * number].update(zip(HANDS, turn, strict=True))
        else:
            rows[start + number][other_hand(first) if number % 2 else first] = turn[0]


class _BridgeEnd(NamedTuple):
    """A state in which a pattern may be left or entered, and the beat at which it is in it."""

    rotation: int
    state: State


class _Path(NamedTuple):
    """A state to leave, a state to enter, and what the hands may throw in between."""

    leave: _BridgeEnd
    enter: _BridgeEnd
    turns: int
    hands: HandLimits
    first: Hand
    """The hand of the first beat, if the hands alternate there."""
    grid: Grid | None = None
    """The beats on which each hand throws, if the timing changes."""

    def can_lead(self, hands: HandLimits) -> bool:
        """Return whether some throws within these limits lead along this path."""
        if self.grid is None:
            return can_lead(hands, self.leave.state, self.enter.state, self.turns)
        left = landings(self.grid, self.leave.state, self.enter.state, hands.capacity)
        acting = self.grid.acting
        return left is not None and can_fill(acting, left, hands.highest, hands.capacity)

    def gentlest(self) -> "_Path":
        """Return this path with the fewest objects at once, and then the lowest throws."""
        if self.grid is None:
            ends = self.leave.state, self.enter.state
            return self._replace(hands=gentlest(self.hands, *ends, self.turns))
        within = (
            replace(self.hands, capacity=capacity, highest=highest)
            for capacity in range(1, self.hands.capacity + 1)
            for highest in range(self.hands.highest + 1)
        )
        return self._replace(hands=next(hands for hands in within if self.can_lead(hands)))

    def bridges(self) -> Iterator[Bridge]:
        """Yield every bridge along this path."""
        hands, leave, enter = self.hands, self.leave, self.enter
        alone = hands.kind == "async" and (self.grid is None or self.grid.before > 0)
        for turns, change in self._throws():
            yield Bridge(
                kind=hands.kind,
                objects=sum(map(sum, leave.state)),
                turns=turns,
                from_rotation=leave.rotation,
                to_rotation=enter.rotation,
                first=self.first if alone else None,
                change=change,
            )

    def _throws(self) -> Iterator[tuple[tuple[Turn, ...], TimingChange | None]]:
        """Yield the throws up to the change of timing, if there is one, and the change."""
        hands, leave, enter = self.hands, self.leave.state, self.enter.state
        if self.grid is None:
            for row in walks(hands, leave, enter, self.turns):
                yield hands.turns(row), None
            return
        left = landings(self.grid, leave, enter, hands.capacity)
        acting = self.grid.acting
        for assigned in filled(acting, left or Counter(), hands.highest, hands.capacity):
            yield as_turns(self.grid, dict(zip(acting, assigned, strict=True)))


def bridge(
    leaving: Pattern | None,
    entering: Pattern | None,
    highest: int | None = None,
    *,
    any_rotation: bool = False,
    first: Hand = "right",
) -> Bridge:
    """Return the easiest of the shortest bridges.

    `leaving` and `entering` are patterns that can be thrown; None is the ground state with as many
    objects as the other one. `highest` is the highest throw that the bridge may have; if None that
    of the two patterns, where the ground state counts as the pattern that throws every object
    equally high. `any_rotation` says whether the patterns may be left and entered at any beat, and
    not only as written. `first` is the hand of beat 0 of `leaving`, if the hands alternate in it.
    Of bridges that are equally easy, the one that enters, and then the one that leaves, nearest to
    the beginning is taken.

    Raises
    ------
    BridgeError
        If both are None, the patterns have different numbers of objects, or no bridge stays under
        `highest`.
    """
    return next(bridges(leaving, entering, highest, any_rotation=any_rotation, first=first))


def bridges(  # noqa: PLR0913 - most are left out as a rule
    leaving: Pattern | None,
    entering: Pattern | None,
    highest: int | None = None,
    *,
    any_rotation: bool = False,
    first: Hand = "right",
    beats: int | None = None,
) -> Iterator[Bridge]:
    """Yield all the shortest bridges, the easiest first; parameters and errors as for `bridge`.

    With `beats`, these are the bridges of that length instead. Where there are very many, only the
    first `MOST_COMPARED` are in order.
    """
    found = _every(_paths(leaving, entering, highest, any_rotation, first, beats))
    effort = _Effort(leaving, entering, first)
    yield from sorted(islice(found, MOST_COMPARED), key=effort.of)
    yield from found


@dataclass(frozen=True, slots=True)
class _Effort:
    """What bridges between two patterns ask of the hands."""

    leaving: Pattern | None
    entering: Pattern | None
    first: Hand

    @property
    def tempo(self) -> float:
        """The usual tempo of the pattern with the higher throws, in beats a minute."""
        ends = [each for each in (self.leaving, self.entering) if each is not None]
        return max(map(default_tempo, ends))

    def of(self, one: Bridge) -> float:
        """Return how hard it is to throw a bridge, with the turn before it and the one after it."""
        thrown = [
            TurnOfHand(beat, hand, _as_held(one, beat, hand, throws))
            for beat, row in one.by_hand()
            for hand, throws in row.items()
        ]
        turns = [*self._before(one), *thrown, *self._after(one)]
        return difficulty_of_throws(turns, one.objects, self.tempo).points

    def _before(self, one: Bridge) -> list[TurnOfHand]:
        """Return what each hand throws last in the pattern that is left."""
        if self.leaving is None:
            return []
        step = self.leaving.beats_per_turn
        turn = one.from_rotation // step
        turns = self.leaving.turns[turn:] + self.leaving.turns[:turn]
        last = [turns[-2 % len(turns)], turns[-1]] if step == 1 else turns[-1:]
        return hand_turns(self.leaving.kind, last, _hand_at(one.from_rotation, self.first), -2)

    def _after(self, one: Bridge) -> list[TurnOfHand]:
        """Return what each hand throws first in the pattern that is entered."""
        if self.entering is None:
            return []
        step = self.entering.beats_per_turn
        turn = one.to_rotation // step
        turns = self.entering.turns[turn:] + self.entering.turns[:turn]
        begun = [turns[0], turns[1 % len(turns)]] if step == 1 else turns[:1]
        hand = one.hand_at(one.beats) or self.first
        return hand_turns(self.entering.kind, begun, hand, one.beats)


def _as_held(one: Bridge, beat: int, hand: Hand, throws: Throws) -> Throws:
    """Return what a hand throws, with a hold in place of what it keeps while it waits."""
    change = one.change
    if change is None or change.how == "hurry" or (beat, hand) != (change.beat - 1, change.hand):
        return throws
    return tuple(Throw(HELD_VALUE) for _ in throws)


def _every(paths: list[_Path]) -> Iterator[Bridge]:
    """Yield every bridge along these paths once, those within the gentlest limits first."""
    gentle = [path.gentlest() for path in paths]
    others = (
        one
        for path, limits in zip(paths, gentle, strict=True)
        for one in path.bridges()
        if not _within(one, limits.hands)
    )
    known = set()
    for one in chain(chain.from_iterable(path.bridges() for path in gentle), others):
        if one.change is not None:  # the same throws may come on several paths
            thrown = (
                one.from_rotation,
                one.to_rotation,
                tuple((beat, *row.items()) for beat, row in one.by_hand() if any(row.values())),
            )
            if thrown in known:
                continue
            known.add(thrown)
        yield one


def _within(one: Bridge, hands: HandLimits) -> bool:
    """Return whether a bridge keeps to limits."""
    thrown = [throws for _, row in one.by_hand() for throws in row.values()]
    return all(
        len(throws) <= hands.capacity and throw.value <= hands.highest
        for throws in thrown
        for throw in throws
    )


def _paths(  # noqa: PLR0913, PLR0917 - those of `bridges`
    leaving: Pattern | None,
    entering: Pattern | None,
    highest: int | None,
    any_rotation: bool,
    first: Hand,
    beats: int | None,
) -> list[_Path]:
    """Return all pairs of states between which a bridge is shortest, in order of preference.

    With `beats`, these are the pairs with a bridge of that length instead.
    """
    named = _checked(leaving, entering)
    limit = min(_usual_limit(named) if highest is None else highest, HIGHEST_VALUE)
    by_hand = named[0].kind != named[-1].kind
    leave = _bridge_ends(leaving, named[0], any_rotation, by_hand=by_hand)
    enter = _bridge_ends(entering, named[-1], any_rotation)
    most = MOST_PAIRS // WAYS_TO_CHANGE if by_hand else MOST_PAIRS
    if len(leave) * len(enter) > most:
        raise BridgeError(
            f"These patterns have {len(leave):,} and {len(enter):,} different states, and at most "
            f"{most:,} pairs of them are compared: leave out --any-rotation."
        )
    hands = HandLimits(
        named[0].kind, limit, capacity(named, [door.state for door in (*leave, *enter)])
    )
    paths = _shortest(hands, leave, enter, first, beats)
    if not paths and beats is not None:
        raise BridgeError(f"No bridge between these patterns takes {counted(beats, 'beat')}.")
    if not paths:
        raise BridgeError(_too_low(hands, leave, enter, first))
    return sorted(paths, key=lambda path: (path.enter.rotation, path.leave.rotation))


def _shortest(
    hands: HandLimits,
    leave: list[_BridgeEnd],
    enter: list[_BridgeEnd],
    first: Hand,
    beats: int | None = None,
) -> list[_Path]:
    """Return the pairs of states with the shortest bridges; an empty list if there are none.

    With `beats`, these are the pairs with a bridge of that length instead.
    """
    step = hands.places
    longest = max(len(due) for door in leave for due in door.state) * step
    changing = len(leave[0].state) != len(enter[0].state)
    lengths = range(0, longest + LONGEST_CHANGE, 1 if changing else step)
    for length in lengths if beats is None else [beats] if changing or beats % step == 0 else []:
        paths = (
            _Path(here, there, length // step, hands, _hand_at(here.rotation, first), grid)
            for here, there in product(leave, enter)
            for grid in (_grids(hands.kind, here, length, first) if changing else [None])
        )
        shortest = [path for path in paths if path.can_lead(hands)]
        if shortest:
            return shortest
    return []


def _grids(leaving: Kind, end: _BridgeEnd, beats: int, first: Hand) -> Iterator[Grid]:
    hand = HANDS.index(_hand_at(end.rotation, first))
    return grids(leaving, other_kind(leaving), beats, hand)


def _hand_at(rotation: int, first: Hand) -> Hand:
    return other_hand(first) if rotation % 2 else first


def _bridge_ends(
    pattern: Pattern | None, other: Pattern, any_rotation: bool, *, by_hand: bool = False
) -> list[_BridgeEnd]:
    """Return the states in which a pattern may be left or entered, each once.

    `by_hand` says whether it matters which hand comes next where the hands alternate.
    """
    if pattern is None:
        return [_BridgeEnd(0, one) for one in ground_states(other.kind, other.objects)]
    if not any_rotation:
        return [_BridgeEnd(0, state(pattern))]
    first: dict[tuple[State, int], int] = {}
    for turn, one in enumerate(states(pattern)):
        first.setdefault((one, turn % 2 if by_hand else 0), turn * pattern.beats_per_turn)
    return [_BridgeEnd(rotation, one) for (one, _), rotation in first.items()]


def _usual_limit(named: list[Pattern]) -> int:
    """Return the highest throw of both ends; the ground state counts as its plain pattern."""
    limit = max(pattern.highest for pattern in named)
    if len(named) == 1:
        beats = named[0].beats_per_turn
        limit = max(limit, -(-named[0].objects // beats) * beats)
    return limit


def capacity(patterns: Iterable[Pattern], ends: Iterable[State]) -> int:
    """Return the most objects that a hand throws at once in these patterns and states."""
    thrown = (len(throws) for pattern in patterns for turn in pattern.turns for throws in turn)
    return max(1, *thrown, *(count for state in ends for due in state for count in due))


def _checked(leaving: Pattern | None, entering: Pattern | None) -> list[Pattern]:
    """Return the patterns that are given; raise an error if no bridge is possible."""
    named = [pattern for pattern in (leaving, entering) if pattern is not None]
    if not named:
        raise BridgeError("No bridge is needed from ground to ground: name a pattern at one end.")
    one, other = named[0], named[-1]
    if one.objects != other.objects:
        raise BridgeError(_pick_up(one.objects, other.objects))
    return named


def _pick_up(before: int, after: int) -> str:
    number = abs(before - after)
    objects = "1 object has" if number == 1 else f"{number} objects have"
    return (
        f"The first pattern has {counted(before, 'object')} and the second {after}, and "
        f"no bridge changes the number of objects: {objects} to be "
        f"{'taken up' if after > before else 'put down'} on the way."
    )


def _too_low(
    hands: HandLimits, leave: list[_BridgeEnd], enter: list[_BridgeEnd], first: Hand
) -> str:
    """Return why there is no bridge, and which highest throw would allow one."""
    higher = range(hands.highest + 1, HIGHEST_VALUE + 1)
    enough = next(
        (one for one in higher if _shortest(replace(hands, highest=one), leave, enter, first)), None
    )
    text = f"No bridge between these patterns keeps to throws of at most {hands.highest}"
    return f"{text}; throws up to {enough} would do." if enough else f"{text}."
