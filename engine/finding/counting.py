"""How many patterns there are, without making them.

Where the hands alternate and throw an object at a time, a sequence of n throws is a closed walk of
the graph of states. Each sequence repeats one of a true period that divides n, so those with true
period n are left by Moebius inversion, and each set of rotations has n of them. With no limit to
the height there are (b + 1)^n - b^n sequences (Buhler, Eisenbud, Graham & Wright, Juggling drops
and descents, Amer. Math. Monthly 101 (1994) 507-519).
"""

from collections.abc import Callable
from math import comb, log10
from typing import Final

from engine.finding.prime_cycles import StateGraph, state_graph
from engine.finding.search import PatternQuery

MOST_STEPS: Final = 20_000_000
"""Throws that are followed to count, at most: a few seconds."""


def count(query: PatternQuery) -> int | None:
    """Return how many patterns a search finds; None where only the search itself can tell."""
    hands = query.hands
    if not hands.plain or "prime" in query.only or query.containing:
        return None
    if "ground" in query.only and not query.every_start:
        return None
    sequences = _sequences(query, max(query.lengths, default=0))
    if sequences is None:
        return None
    return sum(
        _true(sequences, period) // (1 if query.every_start else period) for period in query.lengths
    )


def magnitude(query: PatternQuery) -> float:
    """Return the decimal logarithm of about how many patterns a search goes through.

    An estimate, for telling a search that ends from one that cannot: a throw has b + 1 choices,
    less the share (b / (b + 1))^(h - b + 1) that the highest throw h takes away, which leaves one
    choice for h = b and b + 1 for no limit. The throws of a turn count as so many turns.
    """
    hands, objects, period = query.hands, query.objects, max(query.lengths, default=1)
    free = max(hands.farthest * hands.lanes - objects, 0)
    choices = (objects + 1) * (1 - (objects / (objects + 1)) ** (free + 1))
    return period * (1 + hands.capacity) / 2 * log10(choices) - log10(period)


def _sequences(query: PatternQuery, longest: int) -> Callable[[int], int] | None:
    """Return how to count the sequences of some length, true period or not."""
    objects, hands = query.objects, query.hands
    if hands.highest >= objects * longest and not hands.without and "ground" not in query.only:
        # No value of a sequence is larger than the sum of all its throws.
        return lambda length: (objects + 1) ** length - objects**length
    states = comb(hands.highest, objects)
    starts = 1 if "ground" in query.only else states
    if starts * states * longest * hands.highest > MOST_STEPS:
        return None
    graph = state_graph(objects, hands.highest, hands.without)
    return lambda length: sum(_closed_walks(graph, start, length) for start in range(starts))


def _closed_walks(graph: StateGraph, start: int, length: int) -> int:
    ways = {start: 1}
    for _ in range(length):
        following: dict[int, int] = {}
        for state, number in ways.items():
            for _, to in graph.throws[state]:
                following[to] = following.get(to, 0) + number
        ways = following
    return ways.get(start, 0)


def _true(sequences: Callable[[int], int], period: int) -> int:
    """Return the number of sequences with the true period `period`."""
    divisors = (length for length in range(1, period) if period % length == 0)
    return sequences(period) - sum(_true(sequences, length) for length in divisors)
