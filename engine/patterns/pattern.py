"""A pattern as plain data: turns, the hands that act in them, and their throws.

A *turn* is a moment at which throws are made: every beat of an alternating pattern, every even
beat of a synchronous one. A turn has one *place* for each hand that acts in it: one when the
hands alternate, two (left, then right) when they throw together. Every rule about patterns is
written once, in terms of turns and places.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

Hand: TypeAlias = Literal["right", "left"]
Kind: TypeAlias = Literal["async", "sync"]

HANDS: Final[tuple[Hand, Hand]] = ("left", "right")
"""The hands in the order in which a pair is written."""

HIGHEST_VALUE: Final = 35
HELD_VALUE: Final = 2
VALUE_DIGITS: Final = "0123456789abcdefghijklmnopqrstuvwxyz"
"""The digit of each throw value, 0 to 35 (the trade's common practice)."""


def other_hand(hand: Hand) -> Hand:
    """Return the hand that is not `hand`."""
    return "left" if hand == "right" else "right"


def other_kind(kind: Kind) -> Kind:
    """Return the timing that is not `kind`."""
    return "sync" if kind == "async" else "async"


def beats_per_turn(kind: Kind) -> int:
    """Return the beats from one turn to the next: 1, or 2 when synchronous."""
    return 1 if kind == "async" else 2


@dataclass(frozen=True, slots=True)
class Throw:
    """One throw."""

    value: int
    """Beats until this object is thrown again, 0 to 35; 0 is an empty hand."""
    crossed: bool = False
    """Whether the throw is written with an ``x``. In a pattern only a synchronous throw can be; the
    hand that an alternating throw goes to follows from its value. In a bridge between two timings,
    so can be one that lands where both hands throw."""

    @property
    def held(self) -> bool:
        """Whether the object stays in the hand: a 2 that does not cross."""
        return self.value == HELD_VALUE and not self.crossed

    def __str__(self) -> str:
        return VALUE_DIGITS[self.value] + ("x" if self.crossed else "")


Throws: TypeAlias = tuple[Throw, ...]
"""What one hand throws at once: none, one, or several (a multiplex). Never holds a 0."""

Turn: TypeAlias = tuple[Throws, ...]
"""One place when the hands alternate; left and right when they are synchronous."""

Site: TypeAlias = tuple[int, int]
"""A turn and a place in it."""


def written_turn(kind: Kind, turn: Turn) -> str:
    """Return one turn in notation, such as ``5``, ``[33]`` or ``(4,2x)``."""
    hands = [
        str(throws[0]) if len(throws) == 1 else f"[{''.join(map(str, throws))}]" if throws else "0"
        for throws in turn
    ]
    return hands[0] if kind == "async" else f"({','.join(hands)})"


def rotations(turns: tuple[Turn, ...]) -> Iterator[tuple[Turn, ...]]:
    """Yield `turns` begun on each of them, first as they are."""
    return (turns[first:] + turns[:first] for first in range(len(turns)))


def swapped(turns: tuple[Turn, ...]) -> tuple[Turn, ...]:
    """Return synchronous turns with the hands swapped."""
    return tuple(turn[::-1] for turn in turns)


def in_order(turns: tuple[Turn, ...]) -> tuple[Turn, ...]:
    """Return turns with the throws of each hand in one order, as no hand makes one before another.

    Higher throws come first, and of those of one value the crossing ones.
    """
    return tuple(tuple(map(throws_in_order, turn)) for turn in turns)


def throws_in_order(throws: Throws) -> Throws:
    """Return the throws that a hand makes at once in the order of `in_order`."""
    return tuple(sorted(throws, key=lambda throw: (throw.value, throw.crossed), reverse=True))


@dataclass(frozen=True, slots=True)
class Pattern:
    """A correctly written pattern, whether or not it can be thrown."""

    text: str
    """The pattern in notation: lower case, no separators, ``*`` kept."""
    kind: Kind
    """``"async"`` when the hands alternate, ``"sync"`` when they throw in pairs."""
    turns: tuple[Turn, ...]
    """One repetition; a pattern with ``*`` is written out in full, both halves."""

    @classmethod
    def of(cls, kind: Kind, turns: tuple[Turn, ...]) -> "Pattern":
        """Return the pattern with these turns, at least one; ``*`` stands for a mirrored half."""
        half, odd = divmod(len(turns), 2)
        star = kind == "sync" and not odd and turns[half:] == swapped(turns[:half])
        text = "".join(written_turn(kind, turn) for turn in (turns[:half] if star else turns))
        return cls(text + "*" * star, kind, turns)

    @property
    def beats_per_turn(self) -> int:
        """Beats from one turn to the next: 1, or 2 when synchronous."""
        return beats_per_turn(self.kind)

    @property
    def places(self) -> int:
        """Hands that act in one turn: 1, or 2 when synchronous."""
        return 1 if self.kind == "async" else 2

    @property
    def period(self) -> int:
        """Beats in one repetition, as written."""
        return len(self.turns) * self.beats_per_turn

    @property
    def highest(self) -> int:
        """The largest throw value."""
        return max((throw.value for _, throw in self.throws()), default=0)

    @property
    def multiplex(self) -> bool:
        """Whether some hand throws several objects at once."""
        return any(len(throws) > 1 for turn in self.turns for throws in turn)

    @property
    def total(self) -> int:
        """The sum of all throw values of one repetition."""
        return sum(throw.value for _, throw in self.throws())

    @property
    def objects(self) -> int:
        """The number of objects: the mean throw value a beat (rounded down if not whole)."""
        return self.total // self.period

    def throws(self) -> Iterator[tuple[Site, Throw]]:
        """Yield every throw of one repetition with its site, in the order written."""
        for index, turn in enumerate(self.turns):
            for place, throws in enumerate(turn):
                for throw in throws:
                    yield (index, place), throw

    def thrown_in(self, beats: int) -> int:
        """Return how many objects are thrown in the first `beats` beats, held ones included."""
        return self._made_in(beats, [turn for (turn, _), _ in self.throws()])

    def caught_in(self, beats: int) -> int:
        """Return how many throws of the first `beats` beats are caught: all but held ones."""
        return self._made_in(beats, [turn for (turn, _), throw in self.throws() if not throw.held])

    def _made_in(self, beats: int, turns: list[int]) -> int:
        """Return how many of the throws made on these turns come in the first `beats` beats."""
        cycles, rest = divmod(beats, self.period)
        return cycles * len(turns) + sum(turn * self.beats_per_turn < rest for turn in turns)

    def landing(self, site: Site, throw: Throw) -> Site:
        """Return where `throw`, made at `site`, is due to be thrown again (not reduced)."""
        turn, place = site
        return turn + throw.value // self.beats_per_turn, place ^ throw.crossed

    def hand(self, turn: int, place: int, first: Hand = "right") -> Hand:
        """Return the hand of a place, when `first` is the hand of beat 0 of an alternation."""
        if self.kind == "sync":
            return "right" if place else "left"
        return other_hand(first) if turn % 2 else first
