"""Which throws are open from a state of a simple alternating pattern, and why others are not."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

Obstacle: TypeAlias = Literal["object due", "nothing due", "beat taken"]
"""Why a throw is not open: an object has to be thrown, there is none, or two would meet."""


@dataclass(frozen=True, slots=True)
class OpenThrow:
    """A throw value from some state.

    Parameters
    ----------
    value
        From 0 to the highest throw.
    leads_to
        The state after it; None where it is not open.
    obstacle
        Why it is not open, or None.
    """

    value: int
    leads_to: int | None = None
    obstacle: Obstacle | None = None


def open_throws(state: int, highest: int) -> list[OpenThrow]:
    """Return every throw value from 0 to `highest`, open or not.

    Parameters
    ----------
    state
        As in `engine.finding.state_graph`.
    highest
        The highest throw, at least 0.
    """
    return [_open_throw(state, value) for value in range(highest + 1)]


def _open_throw(state: int, value: int) -> OpenThrow:
    waiting = state >> 1
    if not state & 1:
        return OpenThrow(0, waiting) if value == 0 else OpenThrow(value, obstacle="nothing due")
    if value == 0:
        return OpenThrow(0, obstacle="object due")
    landing = 1 << value - 1
    if waiting & landing:
        return OpenThrow(value, obstacle="beat taken")
    return OpenThrow(value, waiting | landing)
