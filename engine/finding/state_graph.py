"""The states of simple alternating patterns, and the throws between them.

A state is a whole number used as a row of bits: bit k is set if an object is due k beats ahead,
bit 0 on this beat. With b objects and highest throw h there are C(h, b) states, and
C(h - 1, b - 1)(h - b + 1) + C(h - 1, b) throws between them. The patterns without multiplex are
the closed walks of this graph, the prime ones its cycles (Chung & Graham, Primitive juggling
sequences, Amer. Math. Monthly 115 (2008) 185-194).
"""

from itertools import combinations


def ground_state(objects: int) -> int:
    """Return the state with an object due on each of the next `objects` beats."""
    return (1 << objects) - 1


def all_states(objects: int, highest: int) -> list[int]:
    """Return all states of `objects` objects that throws up to `highest` lead to, in order."""
    chosen = combinations(range(highest), objects)
    return sorted(sum(1 << ahead for ahead in due) for due in chosen)


def transitions(state: int, highest: int) -> list[tuple[int, int]]:
    """Return each throw value possible in `state`, 0 to `highest`, with the state it leads to."""
    waiting = state >> 1
    if not state & 1:
        return [(0, waiting)]
    return [
        (value, waiting | 1 << (value - 1))
        for value in range(1, highest + 1)
        if not waiting >> (value - 1) & 1
    ]
