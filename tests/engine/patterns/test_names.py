"""Names of the trade: the throws they stand for, and the names of patterns (common practice)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from throwcount.engine.errors import MalformedError, PatternError
from throwcount.engine.patterns.names import NAMES, name_in, name_of, pattern_named
from throwcount.engine.patterns.pattern import Pattern, swapped
from throwcount.engine.patterns.rules import read, read_throws


@pytest.mark.parametrize(
    ("text", "throws"),
    [
        ("cascade", "3"),
        ("3 cascade", "3"),
        ("5 cascade", "5"),
        ("11-cascade", "b"),
        ("fountain", "4"),
        ("6 fountain", "6"),
        ("10 fountain", "a"),
        ("shower", "51"),
        ("2 shower", "31"),
        ("4-shower", "71"),
        ("5 shower", "91"),
        ("18 shower", "z1"),
        ("half-shower", "53"),
        ("4 half-shower", "53"),
        ("5 half-shower", "73"),
        ("6 half shower", "75"),
        ("7 half-shower", "95"),
        ("box", "(4,2x)(2x,4)"),
        ("3 box", "(4,2x)(2x,4)"),
        ("BOX", "(4,2x)(2x,4)"),
        (" 5  Cascade ", "5"),
        ("5cascade", "5"),
        ("5-ball cascade", "5"),
        ("4 club fountain", "4"),
    ],
)
def test_a_name_is_a_pattern(text: str, throws: str) -> None:
    assert read(text) == read_throws(throws)


@pytest.mark.parametrize(
    ("text", "fragments"),
    [
        ("5 fountain", ["even number", "five make a cascade", "Did you mean 5 cascade?"]),
        ("4 cascade", ["odd number", "four make a fountain", "Did you mean 4 fountain?"]),
        ("2 cascade", ["A cascade takes at least three objects, not 2."]),
        ("1 fountain", ["A fountain takes at least four objects, not 1."]),
        ("1 cascade", ["at least three objects, not 1"]),
        ("2 fountain", ["at least four objects, not 2"]),
        ("0 shower", ["at least two objects, not 0"]),
        ("36 fountain", ["a throw of 36, and the highest value is 35"]),
        ("37 cascade", ["a throw of 37"]),
        ("19 shower", ["a throw of 37"]),
        ("3 half-shower", ["the values of the cascade, 3", "51 is the shower"]),
        ("2 half-shower", ["at least four objects"]),
        ("5 box", ["a pattern of three objects", "not of five"]),
        ("cascades", ["no pattern called cascades. Did you mean cascade?"]),
        ("5 cascdae", ["Did you mean 5 cascade?"]),
        ("3 showr", ["Did you mean 3 shower?"]),
        ("halfshower", ["Did you mean half-shower?"]),
        ("five cascade", ["no pattern called five cascade. Did you mean 5 cascade?"]),
        ("cascade 5", ["Did you mean 5 cascade?"]),
        ("Cascade (5)", ["Did you mean 5 cascade?"]),
        ("5_cascade", ["Did you mean 5 cascade?"]),
        ("5 cascade*", ["Did you mean 5 cascade?"]),
        ("5-cascades", ["Did you mean 5 cascade?"]),
        ("a cascade of five balls", ["Did you mean 5 cascade?"]),
        ("four cascade", ["Did you mean 4 fountain?"]),
        ("4 halfshower", ["Did you mean 4 half-shower?"]),
    ],
)
def test_a_name_without_a_pattern(text: str, fragments: list[str]) -> None:
    with pytest.raises(MalformedError) as caught:
        read(text)
    for fragment in fragments:
        assert fragment in caught.value.message


@pytest.mark.parametrize(
    "text", ["reverse cascade", "5 3 cascade", "mills mess", "5 casc", "boxes 4", "5982bx)*"]
)
def test_what_is_far_from_a_name_is_not_taken_for_one(text: str) -> None:
    assert pattern_named(text) is None


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("5 cascade", "5 cascade"),
        (" 5-Ball  Cascade", "5 cascade"),
        ("box", "box"),
        ("4-half shower", "4 half-shower"),
        ("5-cascades", ""),
        ("531", ""),
        ("", ""),
    ],
)
def test_the_name_in_a_text(text: str, name: str) -> None:
    assert name_in(text) == name


@pytest.mark.parametrize("name", NAMES)
def test_no_name_was_a_pattern_before(name: str) -> None:
    """What can be read as throws is read as throws, so this keeps every name usable."""
    for number in ("", *map(str, range(36))):
        for between in ("", " ", "-", " ball ", "-ball "):
            with pytest.raises(PatternError):
                read_throws(number + between + name)


@pytest.mark.parametrize("name", NAMES)
def test_every_pattern_with_a_name_is_called_by_it(name: str) -> None:
    for objects in range(36):
        try:
            pattern = pattern_named(f"{objects} {name}")
        except PatternError:
            continue
        assert pattern is not None
        assert pattern.objects == objects
        for number in range(len(pattern.turns)):
            turns = pattern.turns[number:] + pattern.turns[:number]
            assert name_of(Pattern.of(pattern.kind, turns)) == f"{objects} {name}"
            assert name_of(Pattern.of(pattern.kind, turns * 3)) == f"{objects} {name}"
            if pattern.kind == "sync":
                assert name_of(Pattern.of("sync", swapped(turns))) == f"{objects} {name}"


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("93", "6 half-shower"),
        ("39", "6 half-shower"),
        ("(4,2x)*", "3 box"),
        ("(4,4)", "4 fountain, both hands at once"),
        ("(4x,2x)", "3 shower, both hands at once"),
        ("(2x,6x)", "4 shower, both hands at once"),
        ("(6x,4x)", "5 half-shower, both hands at once"),
        *((text, "") for text in ("0", "1", "2", "40", "441", "531", "[33]", "(2,2)", "(2x,2x)")),
        *((text, "") for text in ("(4,2)", "(4x,4x)", "62", "50505", "b97531" * 2)),
    ],
)
def test_names_of_other_forms(text: str, name: str) -> None:
    assert name_of(read(text)) == name


@given(st.text(max_size=60) | st.text("0123456789 -abcdehfilnorstuwx", max_size=30))
def test_any_text_is_a_name_or_not(text: str) -> None:
    try:
        found = pattern_named(text)
    except MalformedError:
        return
    assert found is None or name_of(found)
