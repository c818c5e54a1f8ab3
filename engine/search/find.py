"""A pattern query answered: patterns enumerated, counted, or read from the words of a text.

Of each set of rotations one pattern is chosen (`throwcount.engine.patterns.rows`). Patterns come
in order of period, and then in the order in which they are found, which is the same every time.
None are kept, so memory does not grow.

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
from itertools import accumulate, chain
from math import comb, log10
from typing import Final, Literal, TypeAlias, get_args

import numpy as np

from throwcount.engine.errors import PatternError
from throwcount.engine.patterns.pattern import Pattern, in_order, rotations, swapped
from throwcount.engine.patterns.rows import HandLimits, Row, RowQuery, chosen_rotation, plain_text
from throwcount.engine.patterns.rules import read_throws
from throwcount.engine.patterns.states import ground, is_prime, true_period, visits_ground
from throwcount.engine.search.closed_walks import closed_walks, fits_in_a_number
from throwcount.engine.search.necklaces import necklaces
from throwcount.engine.search.state_graph import all_states, number_of_states, transitions
from throwcount.engine.search.walks import Watch, part, unwatched

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

FEW_STATES: Final = 1000
"""States that take no time to go through."""

END_OF_LINE: Final = 255
"""A code that stands for no throw."""

STATES_TO_A_PATTERN: Final = 10
"""States that are gone through in the time that another search takes to find one pattern."""


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
        hands = self.hands
        values = set(range(0, hands.highest + 1, hands.places)) - hands.without
        if not self.containing <= values or self.only >= {"symmetric", "one-sided"}:
            return ()
        if hands.kind == "sync":
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
    turns = in_order(pattern.turns)
    return swapped(turns) in rotations(turns)


def find(query: PatternQuery, watch: Watch = unwatched) -> Iterator[Pattern]:
    """Yield every pattern that answers the query, once.

    `watch` is called now and then with the share of the search that is done.
    """
    for size, rows in _search(query, watch):
        yield from map(query.hands.pattern, _cut(rows, size))


def rising(query: PatternQuery, watch: Watch = unwatched) -> Iterator[Pattern]:
    """Yield every pattern that `find` yields, those with the lowest highest throws first."""
    heights = range(query.hands.places, query.hands.highest + 1, query.hands.places)
    for number, height in enumerate(heights):
        hands = replace(query.hands, highest=height)
        just = replace(query, hands=hands, containing=query.containing | {height})
        yield from find(just, part(watch, number / len(heights), 1 / len(heights)))


def find_texts(query: PatternQuery, watch: Watch = unwatched) -> Iterator[str]:
    """Yield the text of every pattern that `find` yields, many times as fast."""
    return chain.from_iterable(lines.split("\n") for lines in find_lines(query, watch))


def find_lines(query: PatternQuery, watch: Watch = unwatched) -> Iterator[str]:
    """Yield what `find_texts` yields, one a line, as many lines together as are found at once."""
    for size, rows in _search(query, watch):
        if query.hands.plain:
            lines = np.full((len(rows) // size, size + 1), END_OF_LINE, np.uint8)
            lines[:, :size] = np.frombuffer(rows, np.uint8).reshape(-1, size)
            yield plain_text(lines.tobytes()[:-1])
        else:
            yield "\n".join(query.hands.text(row) for row in _cut(rows, size))


def _cut(rows: bytes, size: int) -> list[Row]:
    """Return rows that follow one another without a gap."""
    return [rows[start : start + size] for start in range(0, len(rows), size)]


def _search(query: PatternQuery, watch: Watch) -> Iterator[tuple[int, bytes]]:
    """Yield the length of a row, with some rows that follow one another without a gap."""
    hands, in_ground = query.hands, "ground" in query.only
    for period, watch_period in _watched(query.lengths, watch):
        turns = period // hands.places
        size = turns * hands.slots
        for rows in _classes(query, turns, watch_period):
            if query.every_start:
                every = (one for row in _cut(rows, size) for one in hands.rotations(row))
                yield from (
                    (size, one) for one in every if not in_ground or ground(hands.pattern(one))
                )
            else:
                yield size, rows


def _classes(query: PatternQuery, turns: int, watch: Watch) -> Iterator[bytes]:
    """Yield the chosen rotations of one period, sometimes many of them together.

    Each search takes what it can of the filters, and the patterns found are looked at for the rest.
    """
    hands, objects, only = query.hands, query.objects, query.only
    asked = RowQuery(hands, objects, turns, query.containing)
    size = turns * hands.slots
    taken: set[Filter] = {"symmetric", "one-sided"} if hands.kind == "async" else set()
    if _goes_by_state(query, turns):
        rows = closed_walks(
            asked,
            watch,
            prime="prime" in only,
            from_ground="ground" in only,
            symmetric="symmetric" in only - taken,
        )
        # With several objects in a hand, states alone do not tell what is symmetric.
        taken |= {"prime", "ground"} if hands.capacity > 1 else {"prime", "ground", "symmetric"}
    else:
        rows = (chosen_rotation(hands, objects, row) for row in necklaces(asked, watch))
    others = only - taken
    if others:
        rows = (row for some in rows for row in _cut(some, size))
        rows = (row for row in rows if fits(hands.pattern(row), others))
    yield from rows


def _goes_by_state(query: PatternQuery, turns: int) -> bool:
    """Return whether patterns are found from one state after the other.

    If there are many more states than patterns, that takes longer than to look at all patterns.
    """
    hands = query.hands
    if not fits_in_a_number(hands):
        return False
    patterns = 10 ** magnitude(replace(query, periods=(turns * hands.places,)))
    few = max(FEW_STATES, STATES_TO_A_PATTERN * patterns)
    return "ground" in query.only or number_of_states(hands, query.objects) <= few


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
    number = comb(hands.highest, objects)
    if (1 if "ground" in query.only else number) * number * longest * hands.highest > MOST_STEPS:
        return None
    states = all_states(objects, hands.highest)
    starts = states[:1] if "ground" in query.only else states
    graph = {
        state: [to for value, to in transitions(state, hands.highest) if value not in hands.without]
        for state in states
    }
    return lambda length: sum(_closed_walks(graph, start, length) for start in starts)


def _closed_walks(graph: dict[int, list[int]], start: int, length: int) -> int:
    ways = {start: 1}
    for _ in range(length):
        following: dict[int, int] = {}
        for state, number in ways.items():
            for to in graph[state]:
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
