"""What can be thrown, and what is said of the rest."""

from itertools import product

import pytest

from throwcount.engine.errors import AverageError, CollisionError, PatternError
from throwcount.engine.patterns.notation import parse
from throwcount.engine.patterns.rules import check, read


@pytest.mark.parametrize(
    ("text", "objects"),
    [
        ("0", 0),
        ("3", 3),
        ("51", 3),
        ("531", 3),
        ("7 1 1", 3),
        ("b97531", 6),
        ("[33]", 6),
        ("[34]1", 4),
        ("[22]0", 2),
        ("[54]24", 5),
        ("(4,4)", 4),
        ("(4x,2x)", 3),
        ("(4,2x)*", 3),
        ("(6x,4)*", 5),
        ("([44],0)(4,4)", 4),
        ("([44x],[44x])", 8),
    ],
)
def test_can_be_thrown(text: str, objects: int) -> None:
    pattern = read(text)
    assert pattern.objects == objects
    assert pattern.total == objects * pattern.period


@pytest.mark.parametrize(
    ("text", "at", "fragments"),
    [
        (
            "543",
            (0, 1, 2),
            [
                "the 5 of beat 0, the 4 of beat 1 and the 3 of beat 2 meet on beat 5",
                "in the left hand, where only one object is thrown",
            ],
        ),
        ("321", (0, 1, 2), ["meet on beat 3 in the left hand"]),
        ("402", (0, 1, 2), ["the 4 of beat 0 and the 2 of beat 2 land", "nothing is thrown"]),
        (
            "(4x,2)",
            (0,),
            [
                "the 4x of beat 0 from the left hand and the 2 of beat 2 from the right hand",
                "meet on beat 4 in the right hand",
            ],
        ),
        (
            "(4,0)(0,4x)",
            (2,),
            [
                "the 4x of beat 2 from the right hand lands on beat 6 in the left hand",
                "where nothing is thrown",
            ],
        ),
        (
            "[31]2",
            (0, 1),
            [
                "the 3 of beat 0, the 2 of beat 1 and the 1 of beat 2 meet on beat 3",
                "The multiplex on beat 0 in the right hand throws two: nothing lands there.",
            ],
        ),
        (
            "([44x],2)",
            (0,),
            ["The multiplex on beat 0 in the left hand throws two: only one can land there."],
        ),
        ("4[333333]", (0, 1), ["the 4 of beat 0 and six 3s of beat 1 meet on beat 4"]),
        ("65432", (0, 1, 2, 3, 4), ["the 4 of beat 2 and 2 more meet on beat 6"]),
    ],
)
def test_collision(text: str, at: tuple[int, ...], fragments: list[str]) -> None:
    with pytest.raises(CollisionError) as refused:
        read(text)
    assert refused.value.problem == "collision"
    assert refused.value.at == at
    for fragment in fragments:
        assert fragment in refused.value.message


@pytest.mark.parametrize(
    ("text", "at", "fragments"),
    [
        ("21", (0, 1), ["add up to 3 over 2 beats", "a mean of 1.5", "meet on beat 2"]),
        ("50", (0, 1), ["a mean of 2.5", "the 5 of beat 0 lands on beat 5", "nothing is thrown"]),
        ("433", (0, 1), ["a mean of 10/3, about 3.33333", "must be whole"]),
        ("[33]3", (0,), ["a mean of 4.5", "two 3s of beat 0 meet"]),
        (
            "[444]1",
            (0, 1),
            ["a mean of 6.5", "four objects, where the multiplex throws only three"],
        ),
        ("(4,2)(2,2x)", (0, 2), ["add up to 10 over 4 beats"]),
    ],
)
def test_average(text: str, at: tuple[int, ...], fragments: list[str]) -> None:
    with pytest.raises(AverageError) as refused:
        read(text)
    assert refused.value.problem == "average"
    assert refused.value.at == at
    for fragment in fragments:
        assert fragment in refused.value.message


def refusal(text: str) -> PatternError | None:
    try:
        check(parse(text))
    except PatternError as error:
        return error
    return None


@pytest.mark.parametrize("period", [1, 2, 3, 4])
def test_every_short_sequence_against_the_published_rule(period: int) -> None:
    """The landings mod n are all different: Chung & Graham, Amer. Math. Monthly 115 (2008)."""
    for values in product(range(7), repeat=period):
        landings = [(beat + value) % period for beat, value in enumerate(values)]
        error = refusal("".join(map(str, values)))
        assert (error is None) == (len(set(landings)) == period)
        if error is not None:
            assert isinstance(error, AverageError) == bool(sum(values) % period)
            thrown_at = [beat for beat in error.at if values[beat]]
            assert len({landings[beat] for beat in thrown_at}) == 1
            assert len(thrown_at) > 1 or values[landings[thrown_at[0]]] == 0


def test_ten_thousand_throws_are_read() -> None:
    assert read("531" * 3334).objects == 3
