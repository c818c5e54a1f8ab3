"""What `find` is asked, and how periods and throw values are read from the command line."""

import re
from dataclasses import dataclass
from typing import Final

import click

from engine.finding.search import Query, Symmetry
from engine.patterns.orbits import true_period
from engine.patterns.pattern import HIGHEST_VALUE, VALUE_DIGITS, Kind, Pattern
from engine.patterns.rows import Hands
from engine.patterns.states import is_prime, visits_ground

LONGEST_PERIOD: Final = 200
RANGE: Final = re.compile(r"([0-9]{1,9})(?:-([0-9]{1,9}))?")
NUMBER: Final = re.compile(r"[0-9]{2}")


def periods(text: str | tuple[int, ...]) -> tuple[int, ...]:
    """Return the periods of a text such as ``3``, ``3-6`` or ``3,5,7-9``, in rising order."""
    if not isinstance(text, str):
        return text  # click asks again with what it was given
    found: set[int] = set()
    for part in text.split(","):
        match = RANGE.fullmatch(part.strip())
        if match is None:
            raise click.BadParameter(
                f"{text!r} is no period, such as 3, and no range, such as 3-6."
            )
        first, last = int(match[1]), int(match[2] or match[1])
        if not 1 <= first <= last <= LONGEST_PERIOD:
            raise click.BadParameter(
                f"{text!r}: periods go from 1 to {LONGEST_PERIOD}, and a range from the shorter to "
                "the longer one."
            )
        found.update(range(first, last + 1))
    return tuple(sorted(found))


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
class Asked:
    """The options of `find`, each under its own name."""

    objects: int | None
    highest: int | None
    period: tuple[int, ...] | None
    containing: tuple[int, ...]
    without: tuple[int, ...]
    prime: bool
    ground: bool
    symmetry: Symmetry | None
    rotations: bool
    sync: bool
    capacity: int | None
    words: str | None
    best: int | None
    limit: int | None
    count_only: bool
    as_json: bool

    def query(self) -> Query:
        """Return what is searched for.

        Raises
        ------
        click.UsageError
            If one of the three numbers is missing, or options contradict each other.
        """
        if self.objects is None or self.highest is None or self.period is None:
            raise click.UsageError(
                "A search takes --objects, --max and --period; --words FILE looks for words."
            )
        kind: Kind = "sync" if self.sync else "async"
        return Query(
            self.objects,
            Hands(kind, self.highest, self.capacity or 1, frozenset(self.without)),
            self.period,
            rotations=self.rotations,
            prime=self.prime,
            ground=self.ground,
            containing=frozenset(self.containing),
            symmetry=self.symmetry,
        )

    def check(self) -> None:
        """Return only if the options can stand together.

        Raises
        ------
        click.UsageError
            If they cannot.
        """
        if self.best is not None and (self.count_only or self.rotations):
            raise click.UsageError(
                "--best ranks patterns: it takes no --count-only or --rotations."
            )
        apart = self.sync or self.capacity or self.rotations or self.symmetry or self.best
        if self.words is not None and apart:
            raise click.UsageError(
                "--words takes words as they stand, without --sync, --multiplex, --rotations, "
                "--symmetric, --one-sided or --best."
            )

    def takes(self, pattern: Pattern) -> bool:
        """Return whether a word is wanted."""
        values = {throw.value for _, throw in pattern.throws()}
        return (
            self.objects in {None, pattern.objects}
            and (self.highest is None or pattern.highest <= self.highest)
            and (self.period is None or true_period(pattern) in self.period)
            and values.issuperset(self.containing)
            and values.isdisjoint(self.without)
            and (not self.prime or is_prime(pattern))
            and (not self.ground or visits_ground(pattern))
        )
