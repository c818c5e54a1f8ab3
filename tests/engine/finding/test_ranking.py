"""What is worth rehearsing: each share by hand, and the order."""

from collections.abc import Iterable

import pytest

from engine.finding.ranking import Ranking, Worth, worth
from engine.finding.search import PatternQuery, search
from engine.patterns.jugglable import read
from engine.patterns.pattern import Pattern
from engine.patterns.rows import HandLimits


@pytest.mark.parametrize(
    ("text", "highest", "expected"),
    [
        ("531", 5, Worth(busy=1, whole=1, varied=1, near=1)),
        ("441", 5, Worth(busy=1, whole=1, varied=2 / 3, near=1)),
        ("522", 5, Worth(busy=1 / 3 / 2, whole=1, varied=2 / 3, near=1)),
        ("40", 4, Worth(busy=1 / 2, whole=1, varied=1, near=1 / 2)),
        ("51", 5, Worth(busy=1, whole=1, varied=1, near=2 / 3)),
        ("531441", 5, Worth(busy=1, whole=4 / 6, varied=4 / 5, near=1)),
        ("(4,2x)*", 4, Worth(busy=1, whole=1, varied=2 / 4, near=1)),
        ("[43]1", 4, Worth(busy=1, whole=1, varied=1, near=3 / 4)),
        ("2", 2, Worth(busy=0, whole=1, varied=1, near=1)),
        ("00", 2, Worth(busy=0, whole=1 / 2, varied=0, near=1)),
    ],
)
def test_worth(text: str, highest: int, expected: Worth) -> None:
    found = worth(read(text), highest)
    for share in ("busy", "whole", "varied", "near", "total"):
        assert getattr(found, share) == pytest.approx(getattr(expected, share)), share


def ranked(patterns: Iterable[Pattern], size: int, highest: int) -> list[tuple[Pattern, Worth]]:
    ranking = Ranking(size, highest)
    for pattern in patterns:
        ranking.add(pattern)
    return ranking.ranked()


def test_the_best_of_all_are_kept() -> None:
    every = list(search(PatternQuery(3, HandLimits(highest=7), (2, 3, 4, 5))))
    totals = sorted((worth(pattern, 7).total for pattern in every), reverse=True)
    best = ranked(every, 20, 7)
    assert [one.total for _, one in best] == pytest.approx(totals[:20])
    assert best[0][0].text == "531"
    assert ranked(reversed(every), 20, 7)[0][0].text == "531"


def test_fewer_than_asked() -> None:
    assert ranked([], 3, 5) == []
    assert [pattern.text for pattern, _ in ranked([read("3")], 3, 5)] == ["3"]


def test_lower_throws_first_where_worth_is_equal() -> None:
    best = ranked([read("97531"), read("78451"), read("753")], 3, 9)
    assert [one.total for _, one in best] == pytest.approx([1, 1, 1])
    assert [pattern.text for pattern, _ in best] == ["753", "78451", "97531"]


def test_one_of_two_mirrored_patterns() -> None:
    best = ranked([read("(4x,2x)"), read("(2x,4x)"), read("(4,2)"), read("(2,4)")], 4, 4)
    assert sorted(pattern.text for pattern, _ in best) == ["(4,2)", "(4x,2x)"]
