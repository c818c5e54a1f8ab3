"""How many patterns there are, against published counts.

The candidates are all sequences of whole numbers with the right sum, so that the reading, the
states and the periods of the engine decide alone what is counted.
"""

from collections.abc import Iterator
from functools import cache
from itertools import combinations, product
from math import factorial

import pytest

from throwcount.engine.errors import PatternError
from throwcount.engine.patterns.pattern import VALUE_DIGITS, Pattern, Throw
from throwcount.engine.patterns.rules import check, read
from throwcount.engine.patterns.states import (
    State,
    after,
    ground,
    is_ground,
    is_prime,
    state,
    states,
    true_period,
)


def sequences_with_sum(total: int, length: int) -> Iterator[tuple[int, ...]]:
    """All ways to put `length - 1` bars between `total` stars."""
    for bars in combinations(range(total + length - 1), length - 1):
        edges = (-1, *bars, total + length - 1)
        yield tuple(edges[k + 1] - edges[k] - 1 for k in range(length))


@cache
def sequences(objects: int, period: int) -> tuple[Pattern, ...]:
    """Every pattern of `objects` objects and `period` beats, each rotation on its own."""
    found = []
    for values in sequences_with_sum(objects * period, period):
        turns = tuple(((Throw(value),) if value else (),) for value in values)
        pattern = Pattern("".join(VALUE_DIGITS[value] for value in values), "async", turns)
        try:
            check(pattern)
        except PatternError:
            continue
        found.append(pattern)
    return tuple(found)


def rotation_classes(patterns: list[Pattern], period: int) -> int:
    """The number of patterns up to rotation; all have true period `period`."""
    classes, rest = divmod(len(patterns), period)
    assert rest == 0
    return classes


@pytest.mark.parametrize("objects", [1, 2, 3, 4])
@pytest.mark.parametrize("period", [1, 2, 3, 4, 5])
def test_sequences(objects: int, period: int) -> None:
    """(b + 1)^n - b^n with b objects, b^n with fewer: Buhler, Eisenbud, Graham & Wright (1994)."""
    assert len(sequences(objects, period)) == (objects + 1) ** period - objects**period
    fewer = sum(len(sequences(few, period)) for few in range(objects))
    assert fewer == objects**period


@pytest.mark.parametrize(
    ("objects", "counts"),
    [
        (2, [1, 2, 6, 15, 42, 107]),  # OEIS A065178
        (3, [1, 3, 12, 42, 156, 554]),  # OEIS A065179
        (4, [1, 4, 20, 90, 420]),  # OEIS A065180
    ],
)
def test_up_to_rotation(objects: int, counts: list[int]) -> None:
    for period, count in enumerate(counts, start=1):
        whole = [one for one in sequences(objects, period) if true_period(one) == period]
        assert rotation_classes(whole, period) == count


@pytest.mark.parametrize(
    ("objects", "counts"),
    [
        (2, [1, 2, 5, 10, 23, 48]),  # OEIS A260744
        (3, [1, 3, 11, 36, 127, 405]),  # OEIS A260745
        (4, [1, 4, 19, 83, 391]),  # OEIS A260746
        (5, [1, 5, 29, 157]),  # OEIS A260752
    ],
)
def test_prime(objects: int, counts: list[int]) -> None:
    for period, count in enumerate(counts, start=1):
        prime = [one for one in sequences(objects, period) if is_prime(one)]
        assert rotation_classes(prime, period) == count


@pytest.mark.parametrize("objects", [1, 2, 3, 4])
@pytest.mark.parametrize("period", [1, 2, 3, 4, 5])
def test_from_the_ground_state(objects: int, period: int) -> None:
    """n! for n <= b, b! (b + 1)^(n - b) above; for b = 3 OEIS A084509."""
    longer = max(period - objects, 0)
    expected = factorial(min(period, objects)) * (objects + 1) ** longer
    assert sum(map(ground, sequences(objects, period))) == expected


def test_primitive() -> None:
    """From the ground state and back to it only at the end, 3 objects: OEIS A084519."""
    for period, count in enumerate([1, 1, 3, 13, 47, 173], start=1):
        primitive = [
            one
            for one in sequences(3, period)
            if list(map(is_ground, states(one))) == [True] + [False] * (period - 1)
        ]
        assert len(primitive) == count


def multiplex_texts(before: State, end: State, beats: int) -> Iterator[str]:
    """All patterns from one state to another with never more than two objects due in a hand."""
    if beats == 0:
        if before == end:
            yield ""
        return
    due = before[0][0] if before[0] else 0
    # From the base state and back to it in time, no object can be thrown past its last beat.
    highest = beats + len(end[0]) - 1
    for values in product(range(1, highest + 1), repeat=due):
        if list(values) != sorted(values):
            continue
        following = after(before, (tuple(map(Throw, values)),))
        if max(following[0], default=0) <= 2:
            digits = "".join(VALUE_DIGITS[value] for value in values) or "0"
            written = f"[{digits}]" if due > 1 else digits
            for rest in multiplex_texts(following, end, beats - 1):
                yield written + rest


def test_multiplex() -> None:
    """Two to a hand at the most, base state <1,1>: OEIS A136775, Butler & Graham (2010)."""
    base = ((1, 1),)
    for period, count in enumerate([1, 3, 11, 40, 145, 525], start=1):
        texts = list(multiplex_texts(base, base, period))
        assert len(set(texts)) == len(texts) == count
        assert all(state(read(text)) == base for text in texts)
