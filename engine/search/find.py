"""A pattern query answered: patterns enumerated, counted, or read from the words of a text.

Of each set of rotations one pattern is chosen (`throwcount.engine.patterns.rows`). Patterns come
in order of period, and then in the order in which they are found. None are kept, so memory does
not grow.

Patterns are also counted without being made. Where the hands alternate and throw one object at a
time, a sequence of n throws is a closed walk in the graph of states. Each sequence repeats one
whose true period divides n, so Moebius inversion gives those of true period n, and each set of
rotations has n of them. Without a limit to the height there are (b + 1)^n - b^n sequences (Buhler,
Eisenbud, Graham & Wright, Juggling drops and descents, Amer. Math. Monthly 101 (1994) 507-519).
"""

import re
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import accumulate
from math import comb, log10
from typing import Final, Literal, TypeAlias, get_args

from throwcount.engine.errors import PatternError
from throwcount.engine.patterns.pattern import Pattern, Turn, rotations, swapped
from throwcount.engine.patterns.rows import HandLimits, Row, chosen_rotation, plain_text
from throwcount.engine.patterns.rules import read_throws
from throwcount.engine.patterns.states import ground_states, is_prime, true_period, visits_ground
from throwcount.engine.search.necklaces import necklaces
from throwcount.engine.search.state_graph import StateGraph, prime_cycles, state_graph
from throwcount.engine.search.walks import Watch, largest_ground_walks, part, unwatched, walks

Filter: TypeAlias = Literal["prime", "ground", "symmetric", "one-sided"]
"""A filter: what a pattern may be required to be.

prime
    No state recurs in it.
ground
    It passes through the ground state; the rotation that begins there is given.
symmetric
    Some rotation of it is the same with the hands swapped. Where the hands alternate, these are
    the patterns with an odd period.
one-sided
    It is not symmetric: each hand keeps throws of its own.
"""

FILTERS: Final[tuple[Filter, ...]] = get_args(Filter)

LARGEST_GRAPH: Final = 1000
"""States up to which prime patterns are found as cycles of the whole graph.

In larger graphs most patterns of a usual length are prime, so they are picked out of all patterns.
The same goes for short periods in graphs of middling size.
"""


@dataclass(frozen=True, slots=True)
class PatternQuery:
    """A query for patterns."""

    objects: int
    """The number of objects, at least 1."""
    hands: HandLimits
    """Whether the hands alternate, how high and how many at once they throw, and which values
    are excluded."""
    periods: tuple[int, ...]
    """The true periods, in beats, in the order wanted."""
    every_start: bool = False
    """Whether each rotation counts as a pattern of its own."""
    only: frozenset[Filter] = frozenset()
    """Filters, all of which each pattern must pass."""
    containing: frozenset[int] = frozenset()
    """Throw values that each pattern must have; a 0 is a hand that throws nothing."""

    @property
    def lengths(self) -> tuple[int, ...]:
        """The periods that such patterns can have, of those wanted."""
        if self.hands.kind == "sync":
            return tuple(period for period in self.periods if period % 2 == 0)
        return tuple(
            period
            for period in self.periods
            if ("one-sided" if period % 2 else "symmetric") not in self.only
        )


def fits(pattern: Pattern, only: Collection[Filter]) -> bool:
    """Return whether a pattern that can be thrown is all of `only`."""
    is_one: dict[Filter, Callable[[Pattern], bool]] = {
        "prime": is_prime,
        "ground": visits_ground,
        "symmetric": is_symmetric,
        "one-sided": lambda pattern: not is_symmetric(pattern),
    }
    return all(is_one[name](pattern) for name in only)


def is_symmetric(pattern: Pattern) -> bool:
    """Return whether both hands make the same throws in the same order."""
    if pattern.kind == "async":
        return true_period(pattern) % 2 == 1
    return _mirrors_itself(pattern.turns)


def find(query: PatternQuery, watch: Watch = unwatched) -> Iterator[Pattern]:
    """Yield every pattern that answers the query, once.

    `watch` is called now and then with the share of the search that is done.
    """
    return map(query.hands.pattern, _search_rows(query, watch))


def find_texts(query: PatternQuery, watch: Watch = unwatched) -> Iterator[str]:
    """Yield the text of every pattern that `find` yields, many times as fast."""
    text = plain_text if query.hands.plain else query.hands.text
    return map(text, _search_rows(query, watch))


def _search_rows(query: PatternQuery, watch: Watch) -> Iterator[Row]:
    for period, watch_period in _watched(query.lengths, watch):
        yield from _rows(query, period // query.hands.places, watch_period)


def _rows(query: PatternQuery, turns: int, watch: Watch) -> Iterator[Row]:
    """Yield the rows of one period."""
    hands, objects = query.hands, query.objects
    if "prime" in query.only and _has_small_graph(query, turns):
        return _prime_rows(query, turns, watch)
    if "ground" in query.only:
        return _wanted(query, _ground_rows(query, turns, watch))
    classes = _wanted(query, necklaces(hands, objects, turns, watch))
    if query.every_start:
        return (rotation for row in classes for rotation in hands.rotations(row))
    return (chosen_rotation(hands, objects, row) for row in classes)


def _prime_rows(query: PatternQuery, turns: int, watch: Watch) -> Iterator[Row]:
    """Return the rows that are cycles of the graph of states, from the ground state if wanted."""
    hands, objects = query.hands, query.objects
    graph = state_graph(objects, hands.highest, hands.without)
    roots = [0] if "ground" in query.only else None
    others = replace(query, only=query.only - {"prime"})
    rows = _wanted(others, prime_cycles(graph, turns, roots, watch))
    if query.every_start and "ground" not in query.only:
        return (rotation for row in rows for rotation in hands.rotations(row))
    return rows


def _ground_rows(query: PatternQuery, turns: int, watch: Watch) -> Iterator[Row]:
    """Yield the rows that begin in the ground state and do not repeat within themselves."""
    hands, objects = query.hands, query.objects
    grounds = ground_states(hands.kind, objects)
    if query.every_start:
        every = (row for ground in grounds for row in walks(hands, ground, ground, turns, watch))
        yield from (row for row in every if not hands.repeats(row))
        return
    for row in largest_ground_walks(hands, grounds, turns, watch):
        if row == chosen_rotation(hands, objects, row) and not hands.repeats(row):
            yield row


def _has_small_graph(query: PatternQuery, turns: int) -> bool:
    states = comb(query.hands.highest, query.objects)
    return query.hands.plain and states <= min(LARGEST_GRAPH, 4 << turns)


def _wanted(query: PatternQuery, rows: Iterator[Row]) -> Iterator[Row]:
    """Return the rows that pass the filters; whether one does is independent of its rotation."""
    hands = query.hands
    if query.containing:
        rows = (row for row in rows if query.containing <= _values(hands, row))
    if hands.kind == "sync":
        for name in query.only & {"symmetric", "one-sided"}:
            rows = _of_symmetry(hands, rows, name == "symmetric")
    if "prime" not in query.only:
        return rows
    if hands.plain:
        return (row for row in rows if len(set(_plain_states(row))) == len(row))
    return (row for row in rows if is_prime(hands.pattern(row)))


def _values(hands: HandLimits, row: Row) -> set[int]:
    """Return the throw values of a row; 0 where a hand throws nothing."""
    if hands.plain:
        return set(row)
    throws = [throws for turn in hands.turns(row) for throws in turn]
    return {throw.value for several in throws for throw in several} | {
        0 for none in throws if not none
    }


def _of_symmetry(hands: HandLimits, rows: Iterator[Row], wanted: bool) -> Iterator[Row]:
    return (row for row in rows if _mirrors_itself(hands.turns(row)) is wanted)


def _mirrors_itself(turns: tuple[Turn, ...]) -> bool:
    """Return whether some rotation of synchronous turns equals them with the hands swapped."""
    return swapped(turns) in rotations(turns)


def _plain_states(row: Row) -> Iterator[int]:
    """Yield the state before each throw, as a bit set."""
    length = len(row)
    state = 0
    for beat, value in enumerate(row):
        for landing in range(beat + value - length, -1, -length):
            state |= 1 << landing
    for value in row:
        yield state
        state = state >> 1 | (1 << value >> 1)


def _watched(periods: tuple[int, ...], watch: Watch) -> Iterator[tuple[int, Watch]]:
    """Yield each period with a watch for its part of the search; each beat more doubles it."""
    weights = [2.0 ** (period - max(periods)) for period in periods]
    whole = sum(weights)
    ends = accumulate(weights)
    for period, weight, end in zip(periods, weights, ends, strict=True):
        yield period, part(watch, (end - weight) / whole, weight / whole)


MOST_STEPS: Final = 20_000_000
"""Throws that are followed for a count, at most: a few seconds' work."""


def count(query: PatternQuery) -> int | None:
    """Return how many patterns `find` yields; None if only the search itself can tell."""
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
    """Return the decimal logarithm of roughly how many patterns a search goes through.

    The estimate tells a search that ends from one that will not. A throw has b + 1 choices, less
    the share (b / (b + 1))^(h - b + 1) that the highest throw h takes away, which leaves one
    choice for h = b and b + 1 for no limit. Each throw of a turn counts as a turn.
    """
    hands, objects, period = query.hands, query.objects, max(query.lengths, default=1)
    free = max(hands.farthest * hands.slots - objects, 0)
    choices = (objects + 1) * (1 - (objects / (objects + 1)) ** (free + 1))
    return period * (1 + hands.capacity) / 2 * log10(choices) - log10(period)


def _sequences(query: PatternQuery, longest: int) -> Callable[[int], int] | None:
    """Return a function that counts sequences of a given length; None if that takes too long."""
    objects, hands = query.objects, query.hands
    if hands.highest >= objects * longest and not hands.without and "ground" not in query.only:
        # No value in a sequence is larger than the sum of all its throws.
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
    """Return the number of sequences whose true period is `period`."""
    divisors = (length for length in range(1, period) if period % length == 0)
    return sequences(period) - sum(_true(sequences, length) for length in divisors)


WORD: Final = re.compile(r"[^\W\d_]+(?:['\u2019][^\W\d_]+)*")
"""Letters of any script, with apostrophes between them."""

APOSTROPHES: Final = str.maketrans("", "", "'\u2019")


def jugglable_words(lines: Iterable[str]) -> Iterator[Pattern]:
    """Yield the words whose letters, read as throw values, can be juggled, each once, in order.

    A word is taken without its apostrophes and in lower case; one with a letter other than a to z
    is skipped. `lines` may be any text, in parts that cut no word. Only the words that were found
    are kept in memory.
    """
    found: set[str] = set()
    for line in lines:
        for match in WORD.finditer(line):
            word = match.group().translate(APOSTROPHES)
            if not word.isascii() or word.lower() in found:
                continue
            with suppress(PatternError):
                pattern = read_throws(word)
                found.add(pattern.text)
                yield pattern
