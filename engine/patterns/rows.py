"""Patterns as rows of codes, the rotation that stands for a pattern, and its canonical form.

Searches make and compare very many patterns, so they write a period as a *row*: one code for
each object that a hand may throw, turn by turn, hand by hand within a turn, and from the largest
code down within a hand. ``code = turns_ahead * places + place``; no turns ahead is a 0. Where the
hands alternate and throw one object at a time, the codes are the throw values.

Of the rotations of a pattern, `chosen_rotation` takes the one that begins nearest to the ground
state, as it takes the fewest throws to get into, and of several the largest row.

The canonical form is the largest rotation, written once: 531, 315, 153 and 531531 are one
pattern. It also leaves out

- the order in which the throws of a multiplex are written, which the hands do not keep either;
- whether synchronous pairs repeated with the hands swapped are written with a ``*``;
- which hand does which part: (2x,4x) is the mirror image of (4x,2x). Where the hands alternate,
  a rotation by one beat has the same effect.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, TypeAlias

from throwcount.engine.patterns.pattern import (
    VALUE_DIGITS,
    Kind,
    Pattern,
    Throw,
    Throws,
    Turn,
    in_order,
    swapped,
    throws_in_order,
    written_turn,
)
from throwcount.engine.patterns.states import states, true_period, turns_from_ground

DIGITS: Final = VALUE_DIGITS.encode().ljust(256, b"\n")
"""The table that `bytes.translate` takes to turn throw values into digits, all else into ends of
lines."""

Row: TypeAlias = bytes
"""The codes of some turns, a byte each."""


@dataclass(frozen=True)
class HandLimits:
    """Limits on what the hands do in a turn."""

    kind: Kind = "async"
    """``"async"`` when the hands alternate, ``"sync"`` when they throw in pairs."""
    highest: int = 0
    """The largest throw value."""
    capacity: int = 1
    """Objects that a hand may throw at once, at least 1."""
    without: frozenset[int] = frozenset()
    """Throw values that are not to be used."""

    @property
    def places(self) -> int:
        """Hands that act in one turn, and beats in it: 1 when they alternate, else 2."""
        return 1 if self.kind == "async" else 2

    @property
    def slots(self) -> int:
        """Codes in a turn."""
        return self.places * self.capacity

    @property
    def farthest(self) -> int:
        """The most turns ahead of any throw."""
        return self.highest // self.places

    @property
    def plain(self) -> bool:
        """Whether codes are throw values: the hands alternate and throw an object at a time."""
        return self.slots == 1

    @cached_property
    def allowed(self) -> tuple[int, ...]:
        """For each place the codes that may be used in it, as a bit set."""
        return tuple(
            sum(
                1 << ahead * self.places + to
                for ahead in range(self.farthest + 1)
                for to in range(self.places)
                if (ahead or to == place) and ahead * self.places not in self.without
            )
            for place in range(self.places)
        )

    def rotations(self, row: Row) -> Iterator[Row]:
        """Yield a row from each of its turns on, the first one first."""
        for start in range(0, len(row), self.slots):
            yield row[start:] + row[:start]

    def turns(self, row: Row) -> tuple[Turn, ...]:
        """Return a row as the turns of a pattern."""
        return tuple(turn for turn, _ in self._turns_in_notation(row))

    def pattern(self, row: Row) -> Pattern:
        """Return a row as a pattern; pairs repeated with the hands swapped get a ``*``."""
        pairs = self._turns_in_notation(row)
        turns = tuple(turn for turn, _ in pairs)
        half, odd = divmod(len(turns), 2)
        if self.kind == "sync" and not odd and turns[half:] == swapped(turns[:half]):
            return Pattern("".join(text for _, text in pairs[:half]) + "*", self.kind, turns)
        return Pattern("".join(text for _, text in pairs), self.kind, turns)

    def text(self, row: Row) -> str:
        """Return a row as a pattern in notation."""
        return plain_text(row) if self.plain else self.pattern(row).text

    def _turns_in_notation(self, row: Row) -> list[tuple[Turn, str]]:
        slots, known = self.slots, self._known
        return [known[row[start : start + slots]] for start in range(0, len(row), slots)]

    @cached_property
    def _known(self) -> "_TurnCache":
        return _TurnCache(self)


@dataclass(frozen=True, slots=True)
class RowQuery:
    """Which rows a search is to find."""

    hands: HandLimits
    """What the hands may do."""
    objects: int
    """The number of objects."""
    turns: int
    """The length of a row, at least 1."""
    containing: frozenset[int] = frozenset()
    """Throw values that each row must have; a 0 is a hand that throws nothing."""


class _TurnCache(dict[Row, tuple[Turn, str]]):
    """A cache of turns and their notation, by their codes."""

    def __init__(self, hands: HandLimits) -> None:
        super().__init__()
        self._hands = hands

    def __missing__(self, codes: Row) -> tuple[Turn, str]:
        size = self._hands.capacity
        turn = tuple(
            self._throws(codes[place * size : (place + 1) * size], place)
            for place in range(self._hands.places)
        )
        self[codes] = entry = turn, written_turn(self._hands.kind, turn)
        return entry

    def _throws(self, codes: Row, place: int) -> Throws:
        places = self._hands.places
        distances = [divmod(code, places) for code in codes]
        throws = (Throw(ahead * places, to != place) for ahead, to in distances if ahead)
        return throws_in_order(tuple(throws))


def plain_text(row: Row) -> str:
    """Return the text of a row whose codes are throw values."""
    return row.translate(DIGITS).decode()


def chosen_rotation(hands: HandLimits, objects: int, row: Row) -> Row:
    """Return the rotation that begins nearest to the ground state; of several the largest.

    `row` is one repetition of a pattern, in the codes of `hands`.
    """
    ways = _turns_from_ground(hands, objects, row)
    shortest = min(ways)
    starts = [turn * hands.slots for turn, way in enumerate(ways) if way == shortest]
    return max([row[start:] + row[:start] for start in starts])


def _turns_from_ground(hands: HandLimits, objects: int, row: Row) -> list[int]:
    """Return how far from the ground state each rotation of a row begins."""
    if not hands.plain:
        return [turns_from_ground(one, objects) for one in states(hands.pattern(row))]
    # The first landing of the throws to come is the first beat on which no object is due yet.
    length = len(row)
    landings = [beat + value for beat, value in enumerate(row)]
    earliest = min(landings) + length
    ways = [0] * length
    for beat in range(length - 1, -1, -1):
        earliest = min(earliest, landings[beat])
        ways[beat] = objects - (earliest - beat)
    return ways


def canonical(pattern: Pattern) -> Pattern:
    """Return the one form of all ways to write `pattern`, whether or not it can be thrown."""
    once = in_order(pattern.turns)[: true_period(pattern) // pattern.beats_per_turn]
    turns = largest_rotation(once)
    if pattern.kind == "sync":
        turns = max(turns, largest_rotation(swapped(once)), key=_ranked)
    return Pattern.of(pattern.kind, turns)


def largest_rotation(turns: tuple[Turn, ...]) -> tuple[Turn, ...]:
    """Return the largest rotation, which begins with the highest throw.

    Two candidates are compared until they differ; the smaller one loses with every start that it
    has passed, so the time grows with the length alone (Shiloach, Fast canonization of circular
    strings, J. Algorithms 2 (1981) 107-121).
    """
    ranks = _ranked(turns)
    length = len(ranks)
    one, other, same = 0, 1, 0
    while max(one, other, same) < length:
        here, there = ranks[(one + same) % length], ranks[(other + same) % length]
        if here == there:
            same += 1
            continue
        if here < there:
            one += same + 1
        else:
            other += same + 1
        other += one == other
        same = 0
    largest = min(one, other)
    return turns[largest:] + turns[:largest]


def _ranked(turns: Sequence[Turn]) -> list[list[list[tuple[int, bool]]]]:
    """Return turns as sort keys: by value, crossing throws above others."""
    return [[[(throw.value, throw.crossed) for throw in hand] for hand in turn] for turn in turns]
