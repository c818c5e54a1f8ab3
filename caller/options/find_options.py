"""What `find` is asked, and how it reads beats, filters and throw values."""

import re
from collections.abc import Collection
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

import click
from click.shell_completion import CompletionItem

from caller.console.near import near
from caller.console.terminal import in_words
from engine.finding.search import FILTERS, Filter, PatternQuery, fits
from engine.patterns.orbits import true_period
from engine.patterns.pattern import HIGHEST_VALUE, VALUE_DIGITS, Pattern
from engine.patterns.rows import HandLimits

Show: TypeAlias = Literal["best", "all", "count"]

USUAL_BEATS: Final = (1, 2, 3, 4, 5)
USUAL_HEIGHT: Final = 4
"""The highest throw, above the number of objects."""

USUAL_BEST: Final = 20
MOST_RANKED: Final = 1000
"""How many patterns are listed as the best, and how many can be."""

LONGEST_PERIOD: Final = 200
RANGE: Final = re.compile(r"([0-9]{1,9})(?:-([0-9]{1,9}))?")
NUMBER: Final = re.compile(r"[0-9]{2}")


def beats(text: str | tuple[int, ...]) -> tuple[int, ...]:
    """Return the periods of a text such as ``3``, ``3-6`` or ``3,5,7-9``, in rising order."""
    if not isinstance(text, str):
        return text  # click asks again with what it was given
    found: set[int] = set()
    for part in text.split(","):
        match = RANGE.fullmatch(part.strip())
        if match is None:
            raise click.BadParameter(
                f"{text!r} is no number of beats, such as 4, and no row of them, such as 3-6 or "
                "3,5,8."
            )
        first, last = int(match[1]), int(match[2] or match[1])
        if not 1 <= first <= last <= LONGEST_PERIOD:
            raise click.BadParameter(
                f"{text!r}: patterns have 1 to {LONGEST_PERIOD} beats, and a range goes from the "
                "shorter to the longer one."
            )
        found.update(range(first, last + 1))
    return tuple(sorted(found))


def filters(text: str | Collection[Filter]) -> frozenset[Filter]:
    """Return the filters of a text such as ``prime,ground``."""
    if not isinstance(text, str):
        return frozenset(text)  # click asks again with what it was given
    names = {name.strip() for name in text.split(",")}
    for name in sorted(names.difference(FILTERS)):
        raise click.BadParameter(
            f"{name!r} is no filter: these are {in_words(FILTERS)}.{near(name, FILTERS)}"
        )
    if names >= {"symmetric", "one-sided"}:
        raise click.BadParameter("no pattern is both symmetric and one-sided; keep one of them.")
    return frozenset(name for name in FILTERS if name in names)


def complete_filters(
    _ctx: click.Context, _param: click.Parameter, incomplete: str
) -> list[CompletionItem]:
    """Return what may stand after the last comma, for the shell."""
    before, comma, begun = incomplete.rpartition(",")
    return [
        CompletionItem(f"{before}{comma}{name}")
        for name in FILTERS
        if name.startswith(begun) and name not in before.split(",")
    ]


def throw_value(text: str | int) -> int:
    """Return the throw value of a digit or letter, or of a number with two digits."""
    if isinstance(text, int):
        return text  # click asks again with what it was given
    if len(text) == 1 and text.isascii() and text.lower() in VALUE_DIGITS:
        return VALUE_DIGITS.index(text.lower())
    if NUMBER.fullmatch(text) and int(text) <= HIGHEST_VALUE:
        return int(text)
    raise click.BadParameter(
        f"{text!r} is no throw value: these are 0 to 9, and a to z for 10 to {HIGHEST_VALUE}."
    )


@dataclass(frozen=True, slots=True)
class FindRequest:
    """The options of `find`, each under its own name; None is left to `find`."""

    objects: int | None
    highest: int | None
    beats: tuple[int, ...] | None
    only: frozenset[Filter]
    having: tuple[int, ...]
    lacking: tuple[int, ...]
    together: bool
    from_one_hand: int | None
    every_start: bool
    show: Show | None
    limit: int | None
    words: str | None
    as_json: bool

    @property
    def shown(self) -> Show:
        """What is shown: of words all, of patterns the best, unless one is asked for."""
        return self.show or ("all" if self.words is not None else "best")

    def query(self) -> PatternQuery:
        """Return what is searched for.

        Raises
        ------
        click.UsageError
            If the number of objects is missing.
        """
        if self.objects is None:
            raise click.UsageError(
                "How many objects? `throwcount find 4` finds patterns with four of them; --words "
                "FILE looks for words."
            )
        highest = self.highest or min(self.objects + USUAL_HEIGHT, HIGHEST_VALUE)
        return PatternQuery(
            self.objects,
            HandLimits(
                "sync" if self.together else "async",
                highest,
                self.from_one_hand or 1,
                frozenset(self.lacking),
            ),
            self.beats or USUAL_BEATS,
            every_start=self.every_start,
            only=self.only,
            containing=frozenset(self.having),
        )

    def check(self) -> None:
        """Return only if the options can stand together.

        Raises
        ------
        click.UsageError
            If they cannot.
        """
        if self.shown == "best" and self.limit is not None and self.limit > MOST_RANKED:
            raise click.UsageError(
                f"--limit {self.limit} is too many to rank: the best are at most {MOST_RANKED:,}, "
                "and --show all lists any number."
            )
        apart = self.together or self.from_one_hand or self.every_start or self.show == "best"
        if self.words is not None and apart:
            raise click.UsageError(
                "--words takes words as they stand, without --together, --from-one-hand, "
                "--every-start or --show best."
            )

    def takes(self, pattern: Pattern) -> bool:
        """Return whether a word is wanted."""
        values = {throw.value for _, throw in pattern.throws()}
        return (
            self.objects in {None, pattern.objects}
            and (self.highest is None or pattern.highest <= self.highest)
            and (self.beats is None or true_period(pattern) in self.beats)
            and values.issuperset(self.having)
            and values.isdisjoint(self.lacking)
            and fits(pattern, self.only)
        )
