"""What `find` says beside its list: why nothing was found, what is too much, what is best."""

from collections.abc import Iterator
from typing import Any, Final

from rich.console import RenderableType
from rich.text import Text

from caller.console.terminal import counted, shortened, table
from engine.finding.counting import magnitude
from engine.finding.ranking import Worth
from engine.finding.search import PatternQuery
from engine.leadups.difficulty import difficulty
from engine.patterns.pattern import VALUE_DIGITS, Pattern

ENDLESS: Final = 9.0
"""Decimal logarithm of the patterns that take more than about a working day to go through."""

NARROW: Final = 60
SHARES: Final = ("worth", "busy", "whole", "varied", "near")
CAPTION: Final = (
    "Worth is the product of four shares, a rule of thumb. busy: beats with a throw, neither "
    "empty nor held, divided by the longest row of beats without. whole: states that differ, so "
    "that it does not just string shorter patterns together. varied: different throws, of as many "
    "as there could be. near: how short the way from the ground state is."
)
NO_WORD: Final = "No word of this text can be juggled as asked."
NOT_ALL: Final = "No pattern fits all of these conditions."


def is_endless(query: PatternQuery) -> bool:
    """Return whether no one waits until all of these patterns have been gone through."""
    return magnitude(query) > ENDLESS


def endless_told(query: PatternQuery) -> str:
    """Return the sentence about a search that will not end."""
    return (
        f"There are something like 10^{magnitude(query):.0f} such patterns, which no one waits "
        "for: fewer --beats or a lower --highest makes them fewer, and --show all --limit L lists "
        "the first L."
    )


def none_told(query: PatternQuery) -> str:
    """Return why there is no pattern to list."""
    hands, objects = query.hands, query.objects
    highest = hands.farthest * hands.places
    if highest * hands.capacity < objects:
        return (
            f"{counted(objects, 'object')} take throws of at least "
            f"{-(-objects // hands.capacity)}, as the mean throw is the number of objects; these "
            f"go up to {highest}."
        )
    if hands.kind == "sync" and all(period % 2 for period in query.periods):
        return "Hands that throw together take two beats, so that the number of beats is even."
    if query.containing and max(query.containing) > highest:
        return (
            f"Throws go up to {highest} here, so that none is a "
            f"{VALUE_DIGITS[max(query.containing)]}: a higher --highest allows it."
        )
    return NOT_ALL


def ranked_document(ranked: list[tuple[Pattern, Worth]]) -> dict[str, Any]:
    """Return the patterns that are worth most as JSON has them, with their measures beside them.

    Parameters
    ----------
    ranked
        From `engine.finding.ranking`.
    """
    return {
        "patterns": [pattern.text for pattern, _ in ranked],
        "count": len(ranked),
        "ranked": [
            {
                "pattern": pattern.text,
                "difficulty": round(difficulty(pattern).total, 2),
                **{
                    name: round(share, 4)
                    for name, share in zip(SHARES, _shares(worth), strict=True)
                },
            }
            for pattern, worth in ranked
        ],
    }


def best_page(ranked: list[tuple[Pattern, Worth]], width: int) -> Iterator[RenderableType]:
    """Yield a table of the patterns that are worth most, and how the worth is made up.

    Parameters
    ----------
    ranked
        From `engine.finding.ranking`.
    width
        Columns of the terminal.
    """
    listing = table("pattern", *SHARES, numbers=SHARES)
    if width < NARROW:
        listing.padding = (0, 1, 0, 0)
    for pattern, worth in ranked:
        listing.add_row(shortened(pattern.text), *(f"{share:.2f}" for share in _shares(worth)))
    yield listing
    yield Text()
    yield Text(CAPTION, "dim")


def _shares(worth: Worth) -> tuple[float, ...]:
    return worth.total, worth.busy, worth.whole, worth.varied, worth.near
