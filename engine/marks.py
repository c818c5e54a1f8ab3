"""How a juggler marks a set, and how the set counts then."""

from collections.abc import Iterable
from typing import Final, Literal, TypeAlias, get_args

Mark: TypeAlias = Literal["clean", "drop"]
MARKS: Final[tuple[Mark, ...]] = get_args(Mark)


def outcome(marks: Iterable[Mark], unmarked: Mark | None = None) -> Mark | None:
    """Return how a set counts: one drop in it makes it a drop, whatever else was marked.

    Parameters
    ----------
    marks
        What was marked, in any order.
    unmarked
        How a set counts that got no mark; None if it does not count.
    """
    given = set(marks)
    return "drop" if "drop" in given else "clean" if given else unmarked
