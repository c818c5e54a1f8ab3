"""Single throws of a cycle that are made in a manner of their own: the second 5 under the leg.

A throw is named by what is written for it: ``5``, ``4x``, ``[54]``, ``0`` for an empty hand. A
value stands for its crossing throw and for itself in a multiplex, too. Before it may stand which of
these throws of a cycle it is, or its hand, or every how many of them, counted from the beginning of
the part: "second 5", "last 5", "right 5", "every third 5", "every other right 5". Where several
names fit a throw, the narrowest counts, and of equal ones the first.
"""

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from throwcount.engine.errors import MannerError
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.pattern import (
    VALUE_DIGITS,
    Hand,
    Pattern,
    Throw,
    Throws,
    other_hand,
    throws_in_order,
)

if TYPE_CHECKING:
    from throwcount.engine.timing.objects import BeatTurn

ORDINALS: Final = tuple("first second third fourth fifth sixth seventh eighth ninth tenth".split())
LAST: Final = -1
"""Stands for the last of a cycle in place of a number."""

LONGEST_SHOWN: Final = 40
"""Characters of a wrong name that are told."""

_NAME: Final = re.compile(
    rf"(?P<every>every )?(?:(?P<which>{'|'.join(ORDINALS)}|last|other|[1-9]\d?(?:st|nd|rd|th)) )?"
    r"(?:(?P<hand>right|left) )?(?P<throws>[0-9a-z]x?|\[[0-9a-z ]+\])"
)


@dataclass(frozen=True, slots=True)
class ThrowName:
    """Which throws of a pattern are meant."""

    text: str
    """What names them, such as "second 5"."""
    which: str
    """The words in it before what is thrown; may be empty."""
    throws: Throws
    """What one hand throws: a single throw, 0 for an empty hand, or the whole of a multiplex."""
    hand: Hand | None = None
    """The hand; either if None."""
    number: int | None = None
    """Which of these throws of a cycle, from 1, or `LAST`; all if None."""
    every: bool = False
    """Whether `number` is every how many of these throws of the part it is instead."""

    def places(self, hand: Hand, throws: Throws) -> list[int]:
        """Return which of the throws that a hand makes at once can be meant, from zero."""
        throws = throws or (Throw(0),)
        if self.hand not in {None, hand}:
            return []
        if len(self.throws) > 1:
            whole = throws_in_order(throws) == throws_in_order(self.throws)
            return [*range(len(throws))] if whole else []
        (one,) = self.throws
        return [
            place
            for place, throw in enumerate(throws)
            if throw.value == one.value and (throw.crossed or not one.crossed)
        ]

    @property
    def narrowness(self) -> tuple[bool, bool, bool]:
        """What decides between two names of a throw: the greater one is the narrower."""
        exact = len(self.throws) > 1 or self.throws[0].crossed
        return self.number is not None, exact, self.hand is not None


@dataclass(frozen=True, slots=True)
class Manner:
    """How single throws of a part are made."""

    throw: ThrowName
    """Which."""
    how: str
    """How, in words, such as "under the leg"."""
    call: str = ""
    """What is called in place of their value; empty for the value."""
    shorter: str = ""
    """What is called where there is no time for that; empty if there are no fewer words."""
    seconds: float = 0.0
    """Seconds that `call` takes without haste."""
    unsayable: bool = False
    """Whether it was to be called, and no voice can say all of `how`."""


def throw_name(text: str, pattern: Pattern) -> ThrowName:
    """Return which throws of a pattern a text names.

    Raises
    ------
    MannerError
        If it names none.
    """
    told, shown = " ".join(text.lower().split()), text[:LONGEST_SHOWN]
    found = _NAME.fullmatch(told)
    every, which = (found["every"], found["which"]) if found else (None, None)
    throws = _throws(found["throws"], pattern) if found else ()
    counts = {"last": not every, "other": bool(every)}.get(which or "", True)
    if found is None or not throws or not counts:
        raise MannerError(
            f"“{shown}” names no throw: write what is thrown, as in 5, 4x or [54], and before it "
            "which of them, as in “second 5”, “last 5”, “right 5” or “every third 5”."
        )
    hand: Hand | None = found["hand"]  # type: ignore[assignment]
    before = told[: found.start("throws")].strip()
    name = ThrowName(told, before, throws, hand, _number(which), every=bool(every))
    if not every and hand and which:
        raise MannerError(
            f"“{shown}” says both which throw of the cycle and which hand: keep one of them, or "
            f"write “every {told}” to count the throws of that hand from cycle to cycle."
        )
    _check_thrown(name, found["throws"], pattern)
    return name


def _throws(text: str, pattern: Pattern) -> Throws:
    crossing = "x?" if pattern.kind == "sync" or "[" not in text else ""
    digits = "[0-9a-wyz]" if crossing and "[" in text else "[0-9a-z]"
    written = re.findall(digits + crossing, text)
    return tuple(Throw(VALUE_DIGITS.index(each[0]), len(each) > 1) for each in written)


def _number(which: str | None) -> int | None:
    if which is None:
        return None
    if which in ORDINALS:
        return ORDINALS.index(which) + 1
    return {"last": LAST, "other": 2}.get(which) or int(which[:-2])


def _check_thrown(name: ThrowName, written: str, pattern: Pattern) -> None:
    """Raise `MannerError` if a pattern has no such throw, or not so many of them."""
    count = max(_numbers(pattern, replace(name, hand=None), "right").values(), default=0) // 2
    if not count:
        thrown = dict.fromkeys(str(throw) for _, throw in pattern.throws())
        raise MannerError(f"{pattern.text} throws no {written}; it throws {', '.join(thrown)}.")
    if pattern.kind == "sync" and not _numbers(pattern, name, "right"):
        raise MannerError(f"In {pattern.text} the {name.hand} hand throws no {written}.")
    if not name.every and (name.number or 0) > count:
        raise MannerError(
            f"A cycle of {pattern.text} has {counted(count, 'throw')} of {written}, "
            f"so there is no “{name.text}”; “every {name.text}” counts on from cycle to cycle."
        )


@lru_cache(maxsize=256)
def _numbers(pattern: Pattern, name: ThrowName, begins: Hand) -> Mapping[tuple[int, int, int], int]:
    """Return the throws that can be meant in two cycles, after which each hand is where it was.

    The keys are the turn, the place in it, and the throw of that hand, the values its number, from
    1; that of a multiplex which is meant as a whole is the same for its throws. `begins` is the
    hand of the first turn, if the hands alternate.
    """
    numbers = {}
    count = 0
    for index, turn in enumerate(pattern.turns * 2):
        for place, throws in enumerate(turn):
            there = name.places(pattern.hand(index, place, begins), throws)
            for which in there:
                count += len(name.throws) == 1 or which == there[0]
                numbers[index, place, which] = count
    return numbers


def _is_meant(
    name: ThrowName, pattern: Pattern, begins: Hand, turn: int, throw: Sequence[int]
) -> bool:
    """Return whether a throw of a part is meant: on a turn, in a place, which of that hand."""
    numbers = _numbers(pattern, name, begins)
    block, at = divmod(turn, 2 * len(pattern.turns))
    number = numbers.get((at, throw[0], throw[1]))
    if number is None or name.number is None:
        return number is not None
    total = max(numbers.values())
    if name.every:
        return (block * total + number) % name.number == 0
    a_cycle = total // 2
    return (number - 1) % a_cycle + 1 == (a_cycle if name.number == LAST else name.number)


def narrowest_first(manners: Iterable[Manner]) -> tuple[Manner, ...]:
    """Return manners in the order in which they count where several fit a throw."""
    return tuple(sorted(manners, key=lambda each: each.throw.narrowness, reverse=True))


def manners_at(turn: "BeatTurn") -> tuple[tuple[Manner | None, ...], ...]:
    """Return how each hand of a beat makes each of its throws; None as the others are made."""
    manners, pattern = turn.part.manners, turn.part.pattern
    if not manners or not turn.hands:
        return ()
    index, first = turn.since // pattern.beats_per_turn, turn.hands[0].hand
    begins = other_hand(first) if index % 2 else first

    def manner(*throw: int) -> Manner | None:
        fit = (each for each in manners if _is_meant(each.throw, pattern, begins, index, throw))
        return next(fit, None)

    return tuple(
        tuple(manner(place, which) for which in range(max(len(throws), 1)))
        for place, (_, throws) in enumerate(turn.hands)
    )


def never_made(
    pattern: Pattern, manners: Sequence[Manner], begins: Hand, beats: int
) -> Iterator[Manner]:
    """Yield the manners that no throw has in the first `beats` beats of a pattern.

    The earlier of two manners counts where both fit.
    """
    length, turns = 2 * len(pattern.turns), beats // pattern.beats_per_turn
    blocks = 1  # after which all that counts so far comes again
    for index, manner in enumerate(manners):
        blocks = math.lcm(blocks, max(manner.throw.number or 1, 1))
        meant = (
            [
                _is_meant(each.throw, pattern, begins, turn + at, throw)
                for each in (manner, *manners[:index])
            ]
            == [True] + [False] * index
            for turn in range(0, min(turns, length * blocks), length)
            for at, *throw in _numbers(pattern, manner.throw, begins)
            if turn + at < turns
        )
        if not any(meant):
            yield manner
