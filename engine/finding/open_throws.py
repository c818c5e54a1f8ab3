"""Which throws are open from a state, and why others are not."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

from engine.finding.state_graph import due_now, has_room, throws_of, turns_from
from engine.patterns.pattern import Hand, Turn
from engine.patterns.rows import HandLimits, written_turn
from engine.patterns.states import State

Obstacle: TypeAlias = Literal["object due", "nothing due", "beat taken"]
"""Why a throw is not open: an object has to be thrown, there is none, or too many would meet."""


@dataclass(frozen=True, slots=True)
class OpenThrow:
    """What can, or cannot, be thrown from some state."""

    written: str
    """In notation: what both hands throw if it is open, else one throw of one hand."""

    value: int
    """The highest throw value in it."""

    leads_to: State | None = None
    """The state after it; None where it is not open."""

    obstacle: Obstacle | None = None
    """Why it is not open, or None."""

    hand: Hand | None = None
    """Whose throw is not open, where the hands throw together."""


def open_throws(hands: HandLimits, state: State) -> list[OpenThrow]:
    """Return every throw up to the highest, open or not.

    Where a hand throws one object at a time and the hands alternate, they come in order of value.
    Else the turns that are open come first, and then each throw that no turn can hold.

    `state` is as in `engine.finding.state_graph.states_of`.
    """
    is_open = [
        OpenThrow(written_turn(hands.kind, turn), _highest(turn), following)
        for turn, following in turns_from(hands, state)
    ]
    throws = [*is_open, *_closed(hands, state)]
    return sorted(throws, key=lambda throw: throw.value) if hands.plain else throws


def _closed(hands: HandLimits, state: State) -> Iterator[OpenThrow]:
    names: tuple[Hand | None, ...] = ("left", "right") if hands.kind == "sync" else (None,)
    for place, (hand, due) in enumerate(zip(names, state, strict=True)):
        if due_now(due):
            yield OpenThrow("0", 0, obstacle="object due", hand=hand)
        for throw in throws_of(hands):
            written, value = str(throw), throw.value
            if not due_now(due):
                yield OpenThrow(written, value, obstacle="nothing due", hand=hand)
            elif not has_room(hands, state, place, throw):
                yield OpenThrow(written, value, obstacle="beat taken", hand=hand)


def _highest(turn: Turn) -> int:
    return max((throw.value for throws in turn for throw in throws), default=0)
