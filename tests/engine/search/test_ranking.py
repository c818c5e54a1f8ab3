"""What a coach would name first: each share by hand, the order, ties and mirror images.

What is named first, and what is told in few words, is common practice among jugglers.
"""

import itertools
from collections.abc import Iterable

import pytest

from throwcount.engine.hands.difficulty import difficulty
from throwcount.engine.patterns.pattern import Pattern, rotations, swapped
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.rules import read
from throwcount.engine.search.find import PatternQuery, find, rising
from throwcount.engine.search.ranking import Ranking, Worth, things_to_tell, worth


@pytest.mark.parametrize(
    ("text", "things"),
    [
        ("3", 1),
        ("51", 2),
        # A row of equal throws is one thing.
        ("441", 2),
        ("55500", 2),
        ("7777770", 2),
        # Throws that fall or rise by the same step are told by the first and the step.
        ("531", 2),
        ("97531", 2),
        ("b97531", 2),
        ("645", 2),
        ("53142", 4),
        # A group that comes twice is told once.
        ("75751", 3),
        ("7571", 4),
        ("7463", 4),
        # A pair of equal throws is one thing, a multiplex as many as it has different throws.
        ("(4,4)", 1),
        ("(4x,2x)", 2),
        ("(4,2x)*", 2),
        ("(4,4)(4x,4x)", 2),
        ("(6,4)(4x,2x)", 4),
        ("[33]33", 2),
        ("[43]23", 4),
    ],
)
def test_things_to_tell(text: str, things: int) -> None:
    pattern = read(text)
    for turns in rotations(pattern.turns):
        assert things_to_tell(Pattern.of(pattern.kind, turns)) == things


@pytest.mark.parametrize(
    ("text", "highest", "further", "busy", "whole", "varied", "near"),
    [
        # What the effort has beyond the difficulty: things to tell, states again, rest, gaps.
        ("3", 5, 0, 1, 1, 1, 1),
        ("531", 5, 1, 1, 1, 1, 1),
        ("441", 5, 1, 1, 1, 2 / 3, 1),
        ("423", 5, 1 + 0.25 + 3 / 3 + 0.01, 2 / 3, 2 / 3, 1, 1),  # 2 3 4 rises
        ("522", 5, 1 + 3 * 2 / 3, 1 / 3, 1, 2 / 3, 1),
        ("40", 4, 1 + 2 / 2 + 1, 1 / 2, 1, 1, 1 / 2),
        ("51", 5, 1, 1, 1, 1, 2 / 3),
        ("531441", 5, 3 + 2 * 0.25, 1, 4 / 6, 4 / 5, 1),
        ("(4,2x)*", 4, 1 + 0.05 * 4 / 20, 1, 1, 2 / 4, 1),
        ("(4x,2x)", 4, 1 + 0.05 * 2, 1, 1, 1, 1),
        ("(6,4)(4x,2x)", 6, 3 + 0.05 * (20 / 72 + 1 / 2), 1, 1, 1, 1),
        ("[43]1", 4, 2, 1, 1, 1, 3 / 4),
        ("2", 2, 0, 0, 1, 1, 1),  # plain, though it rests
        ("(2,2)", 2, 0, 0, 1, 1 / 2, 1),
    ],
)
def test_worth(  # noqa: PLR0913, PLR0917 - one argument a share
    text: str,
    highest: int,
    further: float,
    busy: float,
    whole: float,
    varied: float,
    near: float,
) -> None:
    found = worth(read(text), highest)
    assert found.difficulty == difficulty(read(text)).number
    assert found.effort == pytest.approx(max(found.difficulty, found.objects) + further)
    assert (found.busy, found.whole) == pytest.approx((busy, whole))
    assert (found.varied, found.near) == pytest.approx((varied, near))
    assert found.worth == pytest.approx(read(text).objects / found.effort)


def ranked(patterns: Iterable[Pattern], size: int, highest: int) -> list[tuple[Pattern, Worth]]:
    ranking = Ranking(size, highest)
    for pattern in patterns:
        ranking.add(pattern)
    return ranking.ranked()


def best(objects: int, highest: int, beats: tuple[int, ...], size: int = 20) -> list[str]:
    query = PatternQuery(objects, HandLimits(highest=highest), beats)
    return [pattern.text for pattern, _ in ranked(find(query), size, highest)]


@pytest.mark.parametrize(
    ("objects", "highest", "beats", "within", "named"),
    [
        (3, 7, range(1, 6), 1, "3"),
        (4, 8, range(1, 6), 1, "4"),
        (3, 7, range(1, 6), 20, "441 423 531 51 42"),
        (4, 8, range(1, 6), 20, "53 534 552 5551 7531 71"),
        (5, 9, range(3, 8), 40, "744 645 75751 97531"),
        (6, 10, range(1, 6), 20, "75 756 774"),
        (2, 6, range(1, 6), 1, "2"),
        (2, 6, range(1, 6), 20, "31 330 40"),
    ],
)
def test_what_a_coach_would_name_comes_early(
    objects: int, highest: int, beats: range, within: int, named: str
) -> None:
    listed = best(objects, highest, tuple(beats), within)
    begun = {text[first:] + text[:first] for text in listed for first in range(len(text))}
    assert set(named.split()) <= begun


def test_the_best_of_all_are_kept_whatever_comes_first() -> None:
    every = list(find(PatternQuery(3, HandLimits(highest=7), (1, 2, 3, 4, 5))))
    efforts = sorted(worth(pattern, 7).effort for pattern in every)
    for order in (every, every[::-1]):
        found = ranked(order, 20, 7)
        assert [one.effort for _, one in found] == pytest.approx(efforts[:20])
        assert [pattern.text for pattern, _ in found] == best(3, 7, (1, 2, 3, 4, 5))


@pytest.mark.parametrize("objects", range(1, 8))
@pytest.mark.parametrize("together", [False, True])
def test_no_two_of_the_first_are_equal(objects: int, *, together: bool) -> None:
    limits = HandLimits("sync" if together else "async", highest=objects + 4)
    found = rising(PatternQuery(objects, limits, (1, 2, 3, 4, 5)))
    efforts = [one.effort for _, one in ranked(itertools.islice(found, 2000), 20, objects + 4)]
    assert all(before + 1e-6 < after for before, after in itertools.pairwise(efforts))


def test_of_two_that_are_one_another_backwards_the_falling_one_comes_first() -> None:
    """741 and 963 are written and told so (common practice)."""
    for falling, rises in (("741", "471"), ("963", "693")):
        found = ranked([read(rises), read(falling)], 2, 9)
        assert [pattern.text for pattern, _ in found] == [falling, rises]
        assert [one.rising for _, one in found] == [False, True]


def test_fewer_than_asked() -> None:
    assert ranked([], 2, 7) == []
    assert [pattern.text for pattern, _ in ranked([read("534")], 2, 7)] == ["534"]


def test_one_of_two_mirrored_patterns() -> None:
    for texts in (["(4x,2x)", "(2x,4x)", "(2,4)", "(4,2)"], ["(2x,4x)", "(4x,2x)", "(4,2)"]):
        found = ranked(map(read, texts), 4, 4)
        # The one that is written with the higher throw first.
        assert [pattern.text for pattern, _ in found] == ["(4x,2x)", "(4,2)"]


def test_no_mirror_image_among_pairs() -> None:
    query = PatternQuery(4, HandLimits("sync", 8), (2, 4, 6))
    found = [pattern.turns for pattern, _ in ranked(find(query), 100, 8)]
    assert len(found) == 100
    for turns in found:
        mirrors = set(rotations(swapped(turns)))
        assert sum(other in mirrors for other in found) == (1 if turns in mirrors else 0)


def test_every_start_is_ranked_for_itself() -> None:
    query = PatternQuery(3, HandLimits(highest=5), (3,), every_start=True)
    ranking = Ranking(100, 5, every_start=True)
    for pattern in find(query):
        ranking.add(pattern)
    texts = [pattern.text for pattern, _ in ranking.ranked()]
    # The start from the ground state comes first.
    assert next(text for text in texts if text in {"531", "315", "153"}) == "531"
    assert {"441", "414", "144"} <= set(texts)
