"""How a long search tells how far it is, without knowing who listens."""

from collections.abc import Callable, Sequence
from typing import Final, TypeAlias

Watch: TypeAlias = Callable[[float], None]
"""Called now and then with the share of the search that is done, 0 to 1."""

STEPS_BETWEEN_CALLS: Final = 4096


def unwatched(_share: float) -> None:
    """Watch nothing."""


def share_done(open_choices: Sequence[int], widths: Sequence[int], position: int) -> float:
    """Return which share of a depth-first search is done, every choice of a place counted alike.

    Parameters
    ----------
    open_choices
        For each position the choices not yet tried, as bits.
    widths
        How many choices there were.
    """
    done = 0.0
    for here in range(position, -1, -1):
        tried = widths[here] - open_choices[here].bit_count()
        done = (max(tried - 1, 0) + done) / max(widths[here], 1)
    return done


def part(watch: Watch, start: float, size: float) -> Watch:
    """Return a watch for a part of a search that begins at the share `start` of the whole."""
    return lambda share: watch(start + size * share)
