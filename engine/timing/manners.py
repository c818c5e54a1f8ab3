"""Single throws of a cycle that are made in a manner of their own: the second 5 under the leg.

A throw is named by what is written for it: ``5``, ``4x``, ``[54]``, ``0`` for an empty hand. A
value stands for its crossing throw and for itself in a multiplex, too. Before it may stand which of
these throws of a cycle it is, or its hand, or every how many of them, counted from the beginning of
the part: "second 5", "last 5", "right 5", "every third 5", "every other right 5". Where several
names fit a throw, the narrowest counts, and of equal ones the first.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple, TypeAlias

from throwcount.engine.errors import MannerError
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
    throws: Throws
    """What one hand throws: a single throw, 0 for an empty hand, or the whole of a multiplex."""
    hand: Hand | None = None
    """The hand; either if None."""
    number: int | None = None
    """Which of these throws of a cycle, from 1, or `LAST`; all if None."""
    every: bool = False
    """Whether `number` is every how many of these throws of the part it is instead."""

    @property
    def which(self) -> str:
        """The words of `text` before what is thrown."""
        found = _NAME.fullmatch(self.text)
        return self.text[: found.start("throws")].strip() if found else ""

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
    if found is None or (which == "last" and every) or (which == "other" and not every):
        raise MannerError(
            f"“{shown}” names no throw: write what is thrown, as in 5, 4x or [54], and before it "
            "which of them, as in “second 5”, “last 5”, “right 5” or “every third 5”."
        )
    hand: Hand | None = found["hand"]  # type: ignore[assignment]
    throws = _throws(found["throws"], pattern)
    name = ThrowName(told, throws, hand, _number(which), every=bool(every))
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
    hands: Sequence[Hand] = ("left", "right")
    anyone = ThrowName(name.text, name.throws)
    by_hand = [
        sum(_counted(anyone, anyone.places(hand, turn[place])) for turn in pattern.turns)
        for place, hand in zip(range(pattern.places), hands, strict=False)
    ]
    count = sum(by_hand)
    if not count:
        thrown = dict.fromkeys(str(throw) for _, throw in pattern.throws())
        raise MannerError(f"{pattern.text} throws no {written}; it throws {', '.join(thrown)}.")
    if name.hand and pattern.kind == "sync" and not by_hand[hands.index(name.hand)]:
        raise MannerError(f"In {pattern.text} the {name.hand} hand throws no {written}.")
    if not name.every and (name.number or 0) > count:
        raise MannerError(
            f"A cycle of {pattern.text} has {count} throw{'s' if count > 1 else ''} of {written}, "
            f"so there is no “{name.text}”; “every {name.text}” counts on from cycle to cycle."
        )


def _counted(name: ThrowName, places: Sequence[int]) -> int:
    """Return how many throws these are: a multiplex that is meant as a whole is one."""
    return min(len(places), 1) if len(name.throws) > 1 else len(places)


class _Candidate(NamedTuple):
    """A manner that a throw may have."""

    manner: Manner
    number: int
    """Which of all its throws in two cycles this is, from 1; 0 if it has the manner in any case."""
    total: int
    """How many there are in two cycles, after which each hand is where it was."""


_HandManners: TypeAlias = tuple[tuple[_Candidate, ...], ...]


@lru_cache(maxsize=256)
def _candidates(
    pattern: Pattern, manners: tuple[Manner, ...], begins: Hand
) -> tuple[tuple[_HandManners, ...], ...]:
    """Return for each turn of two cycles, each hand and each throw what manners it may have.

    `begins` is the hand of the first beat, if the hands alternate.
    """
    turns = pattern.turns * 2
    rows: list[list[list[list[_Candidate]]]] = [
        [[[] for _ in throws or "0"] for throws in turn] for turn in turns
    ]
    for manner in sorted(manners, key=lambda each: each.throw.narrowness, reverse=True):
        name = manner.throw
        found: list[tuple[int, int, int, int]] = []
        count = 0
        for index, turn in enumerate(turns):
            for place, throws in enumerate(turn):
                there = name.places(pattern.hand(index, place, begins), throws)
                for nth, which in enumerate(there, 1):
                    found.append((index, place, which, count + min(nth, _counted(name, there))))
                count += _counted(name, there)
        a_cycle = count // 2
        for index, place, which, nth in found:
            candidate = _Candidate(manner, nth if name.every and name.number else 0, count)
            wanted = a_cycle if name.number == LAST else name.number
            if name.every or wanted is None or (nth - 1) % a_cycle + 1 == wanted:
                rows[index][place][which].append(candidate)
    return tuple(tuple(tuple(map(tuple, hand)) for hand in row) for row in rows)


def manners_at(turn: "BeatTurn") -> tuple[tuple[Manner | None, ...], ...]:
    """Return how each hand of a beat makes each of its throws; None as the others are made."""
    part = turn.part
    if not part.manners or not turn.hands:
        return ()
    pattern = part.pattern
    index = turn.since // pattern.beats_per_turn
    first = turn.hands[0].hand
    begins = other_hand(first) if index % 2 else first
    rows = _candidates(pattern, part.manners, begins)
    block, at = divmod(index, len(rows))
    return tuple(tuple(_made(each, block) for each in hand) for hand in rows[at])


def _made(candidates: Sequence[_Candidate], block: int) -> Manner | None:
    """Return the manner of a throw in a block of two cycles, from zero."""
    for manner, number, total in candidates:
        if not number or (block * total + number) % (manner.throw.number or 1) == 0:
            return manner
    return None


def never_made(
    pattern: Pattern, manners: tuple[Manner, ...], begins: Hand, beats: int
) -> Iterator[Manner]:
    """Yield the manners that no throw has in the first `beats` beats of a pattern."""
    turns = beats // pattern.beats_per_turn
    for manner in manners:
        rows = _candidates(pattern, (manner,), begins)
        longest = len(rows) * max(manner.throw.number or 1, 1)
        if not any(
            _made(each, index // len(rows))
            for index in range(min(turns, longest))
            for hand in rows[index % len(rows)]
            for each in hand
        ):
            yield manner
