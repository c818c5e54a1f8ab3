"""Everything there is, counted: against published rows, by other ways of finding the same.

Words that can be juggled; the values by hand.
"""

from collections.abc import Callable, Collection
from dataclasses import replace
from itertools import combinations, islice
from math import factorial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from throwcount.engine.errors import PatternError
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.rules import read
from throwcount.engine.patterns.states import (
    State,
    ground,
    is_prime,
    states,
    visits_ground,
)
from throwcount.engine.search.find import (
    FILTERS,
    Filter,
    PatternQuery,
    find,
    find_texts,
    fits,
    jugglable_words,
    rising,
)


def query(  # noqa: PLR0913 - one argument an option
    objects: int,
    highest: int,
    periods: int | range,
    *,
    sync: bool = False,
    capacity: int = 1,
    without: tuple[int, ...] = (),
    containing: tuple[int, ...] = (),
    every_start: bool = False,
    only: Collection[Filter] = (),
) -> PatternQuery:
    return PatternQuery(
        objects,
        HandLimits("sync" if sync else "async", highest, capacity, frozenset(without)),
        tuple(periods) if isinstance(periods, range) else (periods,),
        every_start=every_start,
        only=frozenset(only),
        containing=frozenset(containing),
    )


def texts(asked: PatternQuery) -> list[str]:
    return list(find_texts(asked))


def length(asked: PatternQuery) -> int:
    return sum(1 for _ in find(asked))


UP_TO_ROTATION = {
    2: [1, 2, 6, 15, 42, 107, 294, 780],  # OEIS A065178
    3: [1, 3, 12, 42, 156, 554, 2028, 7350],  # OEIS A065179
    4: [1, 4, 20, 90, 420, 1910, 8820],  # OEIS A065180
}
PRIME = {
    2: [1, 2, 5, 10, 23, 48, 105],  # OEIS A260744
    3: [1, 3, 11, 36, 127, 405, 1409, 4561],  # OEIS A260745
    4: [1, 4, 19, 83, 391, 1663],  # OEIS A260746
    5: [1, 5, 29, 157, 901, 4822],  # OEIS A260752
}


def row_cases(rows: dict[int, list[int]]) -> list[tuple[int, int, int]]:
    return [
        (objects, period, count)
        for objects, row in rows.items()
        for period, count in enumerate(row, start=1)
    ]


@pytest.mark.parametrize(("objects", "period", "count"), row_cases(UP_TO_ROTATION))
def test_one_of_each_rotation_class(objects: int, period: int, count: int) -> None:
    highest = objects * period
    found = texts(query(objects, highest, period))
    assert len(found) == len(set(found)) == count
    assert length(query(objects, highest, period, every_start=True)) == period * count


@pytest.mark.parametrize(("objects", "period", "count"), row_cases(PRIME))
def test_prime(objects: int, period: int, count: int) -> None:
    highest = objects * period
    found = texts(query(objects, highest, period, only={"prime"}))
    assert len(found) == len(set(found)) == count
    every = texts(query(objects, highest, period, only={"prime"}, every_start=True))
    assert len(every) == len(set(every)) == period * count


@pytest.mark.parametrize("objects", [1, 2, 3, 4])
@pytest.mark.parametrize("period", [1, 2, 3, 4, 5, 6])
def test_sequences_of_all_periods_that_divide(objects: int, period: int) -> None:
    """(b + 1)^n - b^n: Buhler, Eisenbud, Graham & Wright (1994)."""
    divisors = [length for length in range(1, period + 1) if period % length == 0]
    number = sum(
        length(query(objects, objects * period, one, every_start=True)) for one in divisors
    )
    assert number == (objects + 1) ** period - objects**period


@pytest.mark.parametrize("objects", [1, 2, 3, 4])
@pytest.mark.parametrize("period", [1, 2, 3, 4, 5, 6])
def test_from_the_ground_state(objects: int, period: int) -> None:
    """n! for n <= b, b! (b + 1)^(n - b) above; for b = 3 OEIS A084509."""
    divisors = [length for length in range(1, period + 1) if period % length == 0]
    number = sum(
        length(query(objects, objects + period, one, only={"ground"}, every_start=True))
        for one in divisors
    )
    longer = max(period - objects, 0)
    assert number == factorial(min(period, objects)) * (objects + 1) ** longer


def test_multiplex() -> None:
    """Two to a hand at the most, base state <1,1>: OEIS A136775, Butler & Graham (2010)."""
    true = [
        length(query(2, period + 2, period, capacity=2, only={"ground"}, every_start=True))
        for period in range(1, 7)
    ]
    for period, count in enumerate([1, 3, 11, 40, 145, 525], start=1):
        divisors = [length for length in range(1, period + 1) if period % length == 0]
        assert sum(true[one - 1] for one in divisors) == count


SMALL = [
    query(3, 6, range(1, 7)),
    query(2, 7, range(1, 6)),
    query(4, 8, range(2, 5, 2), sync=True),
    query(3, 6, range(2, 7, 2), sync=True),
    query(4, 5, range(1, 4), capacity=2),
]


def only(*names: Filter) -> dict[str, object]:
    return {"only": frozenset(names)}


def with_options(asked: PatternQuery, **options: object) -> PatternQuery:
    return replace(asked, **options)  # type: ignore[arg-type]


@pytest.mark.parametrize("asked", SMALL, ids=repr)
def test_options_keep_just_what_they_say(asked: PatternQuery) -> None:
    every = list(find(asked))
    assert every
    kept: dict[str, tuple[dict[str, object], Callable[[Pattern], bool]]] = {
        "prime": (only("prime"), is_prime),
        "ground": (only("ground"), visits_ground),
        "both": (only("prime", "ground"), lambda one: is_prime(one) and visits_ground(one)),
        "with": ({"containing": frozenset({4})}, lambda one: "4" in one.text),
        "with 0": ({"containing": frozenset({0})}, lambda one: "0" in one.text),
        "symmetric": (only("symmetric"), is_symmetric),
        "one-sided": (only("one-sided"), lambda one: not is_symmetric(one)),
        "three": (
            only("prime", "ground", "one-sided"),
            lambda one: is_prime(one) and visits_ground(one) and not is_symmetric(one),
        ),
        "neither": (only("symmetric", "one-sided"), lambda _: False),
    }
    for name, (options, is_kept) in kept.items():
        found = texts(with_options(asked, **options))
        assert sorted(found) == sorted(one.text for one in every if is_kept(one)), name


@pytest.mark.parametrize("asked", SMALL, ids=repr)
@pytest.mark.parametrize("size", range(len(FILTERS) + 1))
def test_a_pattern_by_itself_fits_as_the_search_has_it(asked: PatternQuery, size: int) -> None:
    every = list(find(asked))
    for names in combinations(FILTERS, size):
        found = texts(with_options(asked, **only(*names)))
        assert sorted(found) == sorted(one.text for one in every if fits(one, names)), names


@pytest.mark.parametrize("asked", SMALL, ids=repr)
def test_texts_are_those_of_the_patterns(asked: PatternQuery) -> None:
    assert texts(asked) == [pattern.text for pattern in find(asked)]


@pytest.mark.parametrize("asked", SMALL, ids=repr)
def test_rising_heights(asked: PatternQuery) -> None:
    found = list(rising(asked))
    heights = [pattern.highest for pattern in found]
    assert heights == sorted(heights)
    assert sorted(pattern.text for pattern in found) == sorted(texts(asked))


@pytest.mark.parametrize("asked", SMALL, ids=repr)
def test_without_a_value(asked: PatternQuery) -> None:
    every = list(find(asked))
    hands = HandLimits(asked.hands.kind, asked.hands.highest, asked.hands.capacity, frozenset({2}))
    found = texts(with_options(asked, hands=hands))
    assert sorted(found) == sorted(one.text for one in every if "2" not in one.text)
    in_ground = texts(with_options(asked, hands=hands, **only("ground")))
    assert sorted(in_ground) == sorted(
        one.text for one in every if "2" not in one.text and visits_ground(one)
    )


def is_symmetric(pattern: Pattern) -> bool:
    """Whether the timeline of right and left, over two repetitions, is its own mirror image."""
    acts = []
    for turn in range(2 * len(pattern.turns)):
        places = pattern.turns[turn % len(pattern.turns)]
        by_hand = {pattern.hand(turn, place): throws for place, throws in enumerate(places)}
        acts.append((by_hand.get("right"), by_hand.get("left")))
    mirrored = [act[::-1] for act in acts]
    return any(acts[k:] + acts[:k] == mirrored for k in range(len(acts)))


def due_first(one: State) -> int:
    """How many of the next beats have an object due without a gap, where the hands alternate."""
    return len(one[0]) if 0 not in one[0] else one[0].index(0)


@pytest.mark.parametrize("options", [{}, only("prime"), only("ground")], ids=repr)
def test_the_chosen_rotation_begins_nearest_to_the_ground_state(
    options: dict[str, object],
) -> None:
    for pattern in find(with_options(query(3, 7, range(1, 7)), **options)):
        every = list(states(pattern))
        nearest = max(map(due_first, every))
        assert due_first(every[0]) == nearest
        digits = pattern.text
        equal = [
            digits[k:] + digits[:k] for k, one in enumerate(every) if due_first(one) == nearest
        ]
        assert digits == max(equal)


@pytest.mark.parametrize("asked", SMALL, ids=repr)
def test_a_pattern_that_can_begin_in_the_ground_state_does(asked: PatternQuery) -> None:
    assert all(ground(pattern) == visits_ground(pattern) for pattern in find(asked))


def test_rotations_of_ground_patterns_begin_in_the_ground_state() -> None:
    for asked in SMALL:
        found = list(find(with_options(asked, **only("ground"), every_start=True)))
        assert all(map(ground, found))
        every = find(with_options(asked, every_start=True))
        # A pair with its mirror is written shorter, so that turns and not texts are compared.
        assert {one.turns for one in found} == {one.turns for one in every if ground(one)}


@pytest.mark.parametrize(
    ("objects", "highest", "period"),
    [(4, 8, 60), (8, 9, 60), (1, 12, 60), (2, 35, 60), (17, 35, 60), (34, 35, 60), (9, 20, 35)],
)
@pytest.mark.parametrize("in_ground", [False, True])
def test_the_longest_searches_find_something_at_once(
    objects: int, highest: int, period: int, in_ground: bool
) -> None:
    """A search that went into dead ends would not come back within the life of a juggler."""
    found = list(
        islice(find(query(objects, highest, period, only={"ground"} if in_ground else ())), 20)
    )
    assert len({pattern.text for pattern in found}) == 20
    assert all(read(pattern.text).objects == objects for pattern in found)


@pytest.mark.parametrize(
    "asked",
    [
        query(3, 2, 3),
        query(3, 3, 40),
        query(4, 8, 3, sync=True),
        query(4, 7, range(2, 9, 2), only={"symmetric"}),
        query(9, 9, 100),
        query(2, 3, 50, only={"prime"}),
        query(3, 6, 4, without=tuple(range(7))),
        query(5, 4, 4, sync=True),
    ],
    ids=repr,
)
def test_searches_that_find_nothing_end(asked: PatternQuery) -> None:
    assert texts(asked) == []


@pytest.mark.parametrize(
    "asked",
    [query(4, 8, range(5, 9)), query(4, 8, 9, only={"prime"}), query(4, 8, 9, only={"ground"})],
    ids=repr,
)
def test_the_share_done_rises_from_0_to_1(asked: PatternQuery) -> None:
    shares: list[float] = []
    for _ in find(asked, shares.append):
        pass
    assert len(shares) > 5
    assert shares == sorted(shares)
    assert 0 <= shares[0] < shares[-1] <= 1


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Add the bad tea.", ["add", "the"]),  # a d d is 10 13 13; t h e is 29 17 14
        ("ADD add Add\n", ["add"]),
        ("add-the/add_add add2 2add", ["add", "the"]),
        ("a I", ["a", "i"]),
        ("ad'd, a\N{RIGHT SINGLE QUOTATION MARK}dd", ["add"]),
        ("add\N{COMBINING ACUTE ACCENT} add\N{LATIN SMALL LETTER E WITH ACUTE}", ["add"]),
        ("531 97531 ...", []),
        ("", []),
    ],
)
def test_words(text: str, words: list[str]) -> None:
    assert [pattern.text for pattern in jugglable_words([text])] == words


def test_lines_are_read_one_by_one() -> None:
    lines = iter(["add", "the", "unread"])
    found = jugglable_words(lines)
    assert (next(found).text, next(found).text) == ("add", "the")
    assert next(lines) == "unread"


@given(st.lists(st.text()))
def test_any_text(lines: list[str]) -> None:
    for pattern in jugglable_words(lines):
        assert read(pattern.text) == pattern


@given(st.lists(st.text("abcdefghij", min_size=1, max_size=5)))
def test_just_the_words_that_can_be_read(words: list[str]) -> None:
    expected = []
    for word in words:
        try:
            read(word)
        except PatternError:
            continue
        expected.append(word)
    assert [one.text for one in jugglable_words(words)] == list(dict.fromkeys(expected))
