"""How a juggler marks a set, and how the set counts then."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias, get_args

Mark: TypeAlias = Literal["clean", "drop"]
MARKS: Final[tuple[Mark, ...]] = get_args(Mark)


@dataclass(frozen=True, slots=True)
class Given:
    """A mark, and whether it was heard from the catches and not given by the juggler."""

    mark: Mark
    heard: bool = False


def standing(given: Iterable[Given]) -> list[Given]:
    """Return the marks that stand: when a juggler says "clean", drops heard before are taken back.

    `given` are the marks of a set, in order.
    """
    stand: list[Given] = []
    for each in given:
        if each.mark == "clean" and not each.heard:
            stand = [before for before in stand if not before.heard]
        stand.append(each)
    return stand


def outcome(marks: Iterable[Mark], unmarked: Mark | None = None) -> Mark | None:
    """Return how a set counts: one drop in it makes it a drop, whatever else was marked.

    `marks` are what was marked, in any order. `unmarked` says how a set counts that got no mark;
    None if it does not count.
    """
    given = set(marks)
    return "drop" if "drop" in given else "clean" if given else unmarked
