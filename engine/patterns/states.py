"""The state of a pattern: where its objects are due, before any of its turns.

The ground state of N objects has one due on each of the next N turns (N places, when the hands
throw together); a pattern in it is a ground pattern, any other an excited one. See Chung &
Graham, Primitive juggling sequences, Amer. Math. Monthly 115 (2008) 185-194. The patterns given
here can all be thrown.
"""

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import TypeAlias

from engine.patterns.pattern import Pattern, Turn

Due: TypeAlias = tuple[int, ...]
"""Objects due on each coming turn, the next first, without zeros at the end."""

State: TypeAlias = tuple[Due, ...]
"""One list for each place: a single one when the hands alternate, else left and right."""


def state(pattern: Pattern) -> State:
    """Return the state before the first throw."""
    turns = len(pattern.turns)
    due = [[0] * (pattern.highest // pattern.beats_per_turn) for _ in range(pattern.places)]
    for site, throw in pattern.throws():
        turn, place = pattern.landing(site, throw)
        # The same throw was made in each earlier repetition; those still flying land after now.
        for landing in range(turn % turns, turn - turns + 1, turns):
            due[place][landing] += 1
    return tuple(map(trimmed, due))


def states(pattern: Pattern) -> Iterator[State]:
    """Yield the state before each turn of one repetition."""
    current = state(pattern)
    for turn in pattern.turns:
        yield current
        current = after(current, turn)


def after(before: State, turn: Turn) -> State:
    """Return the state that `turn` leads to from the state `before` it."""
    due = [list(place[1:]) for place in before]
    for index, throws in enumerate(turn):
        for throw in throws:
            ahead = throw.value // len(turn) - 1
            place = due[index ^ throw.crossed]
            place.extend([0] * (ahead + 1 - len(place)))
            place[ahead] += 1
    return tuple(map(trimmed, due))


def is_ground(one: State) -> bool:
    """Return whether a state is the ground state of its objects.

    When the hands throw together the objects are shared as evenly as can be; of an odd number
    either hand may have one more.
    """
    lengths = [len(place) for place in one]
    return all(due == 1 for place in one for due in place) and max(lengths) - min(lengths) <= 1


def ground(pattern: Pattern) -> bool:
    """Return whether the pattern begins in the ground state."""
    return is_ground(state(pattern))


def visits_ground(pattern: Pattern) -> bool:
    """Return whether the pattern is in the ground state before some turn."""
    return any(map(is_ground, states(pattern)))


def is_prime(pattern: Pattern) -> bool:
    """Return whether no state comes twice in one repetition."""
    return len(set(states(pattern))) == len(pattern.turns)


def due_by_beat(pattern: Pattern) -> list[int] | list[list[int]]:
    """Return the objects due on each coming beat, the next first, before the first throw.

    One list when the hands alternate; when they throw together, one for the left hand and one
    for the right, with a 0 on each odd beat between two turns.
    """
    return by_beat(state(pattern))


def by_beat(one: State) -> list[int] | list[list[int]]:
    """Return a state as `due_by_beat` has it."""
    if len(one) == 1:
        return list(one[0])
    return [_with_odd_beats(place) for place in one]


def _with_odd_beats(place: Due) -> list[int]:
    beats = [0] * (2 * len(place))
    beats[::2] = place
    return beats[:-1]


def trimmed(due: Sequence[int]) -> Due:
    """Return the objects due on each turn without the zeros at the end."""
    zeros = next((index for index, count in enumerate(reversed(due)) if count), len(due))
    return tuple(islice(due, len(due) - zeros))
