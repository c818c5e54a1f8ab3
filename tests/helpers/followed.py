"""Patterns thrown through the beats object by object, written apart from the engine.

A hand that is to throw takes an object that has come down to it on this beat, or one that it holds
since the beginning. Once the longest throw has come down, every object has been thrown, and each
hand throws what comes down to it: nothing more and nothing less.
"""

import re
from collections import defaultdict
from typing import TypeAlias

TURN = re.compile(r"\(([^,]+),([^)]+)\)|\[([^\]]+)\]|([0-9a-z])")
THROW = re.compile(r"([0-9a-z])(x?)")
DIGITS = "0123456789abcdefghijklmnopqrstuvwxyz"

Hands: TypeAlias = dict[int, list[tuple[int, int]]]
"""For each hand, 0 or 1, its throws on a beat: how many beats ahead, and to which hand."""


def hands_by_beat(text: str) -> list[Hands]:
    """Return what the hands throw on each beat of a pattern until both do the same again."""
    beats: list[Hands] = []
    for left, right, several, single in TURN.findall(text):
        if left:
            beats += [{0: thrown(left, 0), 1: thrown(right, 1)}, {}]
            continue
        hand = len(beats) % 2
        values = [DIGITS.index(digit) for digit in several or single]
        beats.append({hand: [(value, (hand + value) % 2) for value in values if value]})
    if text.endswith("*") or (len(beats) % 2 and not text.startswith("(")):
        beats += [mirrored(hands) for hands in beats]
    return beats


def thrown(text: str, hand: int) -> list[tuple[int, int]]:
    """Return the throws of one hand of a pair."""
    values = [(DIGITS.index(digit), hand ^ bool(cross)) for digit, cross in THROW.findall(text)]
    return [throw for throw in values if throw[0]]


def mirrored(hands: Hands) -> Hands:
    return {1 - hand: [(value, 1 - to) for value, to in throws] for hand, throws in hands.items()}


def objects_followed(text: str, rounds: int = 3) -> int | None:
    """Return how many objects a pattern takes; None if it cannot be thrown."""
    cycle = hands_by_beat(text)
    longest = max(
        (value for beat in cycle for throws in beat.values() for value, _ in throws), default=0
    )
    coming: defaultdict[tuple[int, int], list[int]] = defaultdict(list)
    objects = 0
    for beat in range(longest + rounds * len(cycle)):
        hands = cycle[beat % len(cycle)]
        for hand in (0, 1):
            throws, here = hands.get(hand, []), coming.pop((beat, hand), [])
            while len(here) < len(throws) and beat < longest:
                here.append(objects)
                objects += 1
            if len(here) != len(throws):
                return None
            for one, (value, to) in zip(here, throws, strict=True):
                coming[beat + value, to].append(one)
    return objects
