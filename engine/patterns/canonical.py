"""One form for a pattern, from whatever throw of it somebody starts to write.

531, 315, 153 and 531531 are one pattern: their canonical form is the largest of the rotations,
written once. Three things besides the rotation are left out of it:

- the order in which the throws of a multiplex are written, which the hands do not keep either;
- whether synchronous pairs that come again with the hands swapped are written with a ``*``;
- which hand does which part: (2x,4x) is (4x,2x) in a mirror. Where the hands alternate there is
  no other way, as a rotation by one beat gives each hand the part of the other.
"""

from collections.abc import Sequence
from dataclasses import replace

from engine.patterns.orbits import true_period
from engine.patterns.pattern import Pattern, Throws, Turn
from engine.patterns.rows import swapped, written_turn


def canonical(pattern: Pattern) -> Pattern:
    """Return the one form of all ways to write `pattern`; its text names the pattern.

    The pattern need not be one that can be thrown.
    """
    ordered = replace(pattern, turns=tuple(map(_ordered, pattern.turns)))
    once = ordered.turns[: true_period(ordered) // ordered.beats_per_turn]
    turns = largest_rotation(once)
    if pattern.kind == "sync":
        turns = max(turns, largest_rotation(swapped(once)), key=_ranked)
    return Pattern(_text(pattern, turns), pattern.kind, turns)


def largest_rotation(turns: tuple[Turn, ...]) -> tuple[Turn, ...]:
    """Return the largest rotation: the highest throw comes first, where one is highest.

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
    """Return turns in a form that Python puts in order: by value, crossing throws above others."""
    return [[[(throw.value, throw.crossed) for throw in hand] for hand in turn] for turn in turns]


def _ordered(turn: Turn) -> Turn:
    return tuple(map(_from_the_highest, turn))


def _from_the_highest(throws: Throws) -> Throws:
    return tuple(sorted(throws, key=lambda throw: (throw.value, throw.crossed), reverse=True))


def _text(pattern: Pattern, turns: tuple[Turn, ...]) -> str:
    half, odd = divmod(len(turns), 2)
    star = pattern.kind == "sync" and not odd and turns[half:] == swapped(turns[:half])
    told = turns[:half] if star else turns
    return "".join(written_turn(pattern.kind, turn) for turn in told) + "*" * star
