"""Bridges: the shortest sequences of throws from one pattern into another without a stop.

A bridge begins in a state of the first pattern and ends in a state of the second. Its hands
throw no more objects at once than the two patterns do.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import product
from typing import Final, NamedTuple

from throwcount.engine.errors import EngineError
from throwcount.engine.patterns.pattern import HIGHEST_VALUE, Kind, Pattern, Turn, written_turn
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.states import State, ground_states, state, states
from throwcount.engine.search.walks import can_lead, gentlest, walks

MOST_PAIRS: Final = 40_000
"""Pairs of a state to leave and a state to enter that are compared, at most."""


class BridgeError(EngineError):
    """Two patterns have no bridge between them."""


@dataclass(frozen=True, slots=True)
class Bridge:
    """A sequence of throws from one pattern to another."""

    kind: Kind
    """The kind of both patterns."""
    objects: int
    """How many objects both have."""
    turns: tuple[Turn, ...]
    """The throws; none if both ends are in the same state."""
    from_rotation: int
    """The beat of the first pattern at which it is left; 0 as it is written."""
    to_rotation: int
    """The beat of the second pattern at which it is entered; 0 as it is written."""

    @property
    def throws(self) -> tuple[str, ...]:
        """Each turn in notation."""
        return tuple(written_turn(self.kind, turn) for turn in self.turns)


class _Door(NamedTuple):
    """A state in which a pattern may be left or entered, and the beat at which it is in it."""

    rotation: int
    state: State


class _Path(NamedTuple):
    """A state to leave, a state to enter, and what the hands may throw in between."""

    leave: _Door
    enter: _Door
    turns: int
    hands: HandLimits


def bridge(
    leaving: Pattern | None,
    entering: Pattern | None,
    highest: int | None = None,
    *,
    any_rotation: bool = False,
) -> Bridge:
    """Return the shortest bridge; of several, the one whose highest throw is lowest.

    `leaving` and `entering` are patterns that can be thrown; None is the ground state with as many
    objects as the other one. `highest` is the highest throw that the bridge may have; if None that
    of the two patterns, where the ground state counts as the pattern that throws every object
    equally high. `any_rotation` says whether the patterns may be left and entered at any beat, and
    not only as written. Of bridges that are still equal, the one that enters, and then the one that
    leaves, nearest to the beginning is taken.

    Raises
    ------
    BridgeError
        If both are None, the patterns have different numbers of objects, the hands alternate in
        only one of them, or no bridge stays under `highest`.
    """
    way = _ways(leaving, entering, highest, any_rotation)[0]
    hands = gentlest(way.hands, way.leave.state, way.enter.state, way.turns)
    return next(_bridges(way._replace(hands=hands)))


def bridges(
    leaving: Pattern | None,
    entering: Pattern | None,
    highest: int | None = None,
    *,
    any_rotation: bool = False,
) -> Iterator[Bridge]:
    """Yield all the shortest bridges; parameters and errors as for `bridge`."""
    for way in _ways(leaving, entering, highest, any_rotation):
        yield from _bridges(way)


def _bridges(way: _Path) -> Iterator[Bridge]:
    hands = way.hands
    objects = sum(map(sum, way.leave.state))
    for row in walks(hands, way.leave.state, way.enter.state, way.turns):
        yield Bridge(hands.kind, objects, hands.turns(row), way.leave.rotation, way.enter.rotation)


def _ways(
    leaving: Pattern | None, entering: Pattern | None, highest: int | None, any_rotation: bool
) -> list[_Path]:
    """Return all pairs of states between which a bridge is shortest, in order of preference."""
    named = _checked(leaving, entering)
    limit = min(_usual_limit(named) if highest is None else highest, HIGHEST_VALUE)
    leave = _doors(leaving, named[0], any_rotation)
    enter = _doors(entering, named[0], any_rotation)
    if len(leave) * len(enter) > MOST_PAIRS:
        raise BridgeError(
            f"These patterns have {len(leave):,} and {len(enter):,} different states, and at most "
            f"{MOST_PAIRS:,} pairs of them are compared: leave out --any-rotation."
        )
    hands = HandLimits(
        named[0].kind, limit, capacity(named, [door.state for door in (*leave, *enter)])
    )
    ways = _shortest(hands, leave, enter)
    if not ways:
        raise BridgeError(_too_low(hands, leave, enter))
    return sorted(ways, key=lambda way: (way.enter.rotation, way.leave.rotation))


def _shortest(hands: HandLimits, leave: list[_Door], enter: list[_Door]) -> list[_Path]:
    """Return the pairs of states with the shortest bridges; an empty list if there are none."""
    longest = max(len(due) for door in leave for due in door.state)
    for turns in range(longest + 1):
        ways = [
            _Path(here, there, turns, hands)
            for here, there in product(leave, enter)
            if can_lead(hands, here.state, there.state, turns)
        ]
        if ways:
            return ways
    return []


def _doors(pattern: Pattern | None, other: Pattern, any_rotation: bool) -> list[_Door]:
    """Return the states in which a pattern may be left or entered, each once."""
    if pattern is None:
        return [_Door(0, one) for one in ground_states(other.kind, other.objects)]
    if not any_rotation:
        return [_Door(0, state(pattern))]
    first: dict[State, int] = {}
    for turn, one in enumerate(states(pattern)):
        first.setdefault(one, turn * pattern.beats_per_turn)
    return [_Door(rotation, one) for one, rotation in first.items()]


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
    if one.kind != other.kind:
        raise BridgeError(
            "The hands alternate in one of these patterns and throw together in the other, and a "
            "bridge keeps to one way of throwing."
        )
    return named


def _pick_up(before: int, after: int) -> str:
    number = abs(before - after)
    objects = "1 object has" if number == 1 else f"{number} objects have"
    if after > before:
        needed = f"a pick-up is needed, as {objects} to be taken up"
    else:
        needed = f"{objects} to be put down, and a pick-up is needed on the way back"
    return (
        f"The first pattern has {before} and the second {after}, and no bridge changes the number "
        f"of objects: {needed}."
    )


def _too_low(hands: HandLimits, leave: list[_Door], enter: list[_Door]) -> str:
    """Return why there is no bridge, and which highest throw would allow one."""
    higher = range(hands.highest + 1, HIGHEST_VALUE + 1)
    enough = next(
        (one for one in higher if _shortest(replace(hands, highest=one), leave, enter)), None
    )
    told = f"No bridge between these patterns keeps to throws of at most {hands.highest}"
    return f"{told}; throws up to {enough} would do." if enough else f"{told}."
