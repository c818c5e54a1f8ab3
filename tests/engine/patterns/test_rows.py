"""One form for every way to write a pattern.

Which sequences are rotations of one another is checked against the definition, by trying every
rotation, and the number of classes against OEIS A065178, A065179 and A065180.
"""

import itertools
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.engine.patterns.notation import parse
from throwcount.engine.patterns.pattern import VALUE_DIGITS, Pattern
from throwcount.engine.patterns.rows import canonical, largest_rotation
from throwcount.engine.patterns.rules import check, first_meeting
from throwcount.engine.patterns.states import true_period

GENEROUS_SECONDS = 3.0
"""Of the processor, whatever else has it meanwhile: twenty times what is needed."""


@pytest.mark.parametrize(
    ("written", "form"),
    [
        ("531", "531"),
        ("315", "531"),
        ("153", "531"),
        ("531531", "531"),
        ("15", "51"),
        ("3333", "3"),
        ("0", "0"),
        ("000", "0"),
        ("414", "441"),
        ("7 4 4", "744"),
        ("44b", "b44"),
        ("33[33]", "[33]33"),
        ("[32]4[43]", "[43][32]4"),
        ("[23]4[34]", "[43][32]4"),
        ("4[34][23]", "[43][32]4"),
        ("(4x,2x)", "(4x,2x)"),
        ("(2x,4x)", "(4x,2x)"),
        ("(4x,2x)(4x,2x)", "(4x,2x)"),
        ("(2x,4x)(4x,2x)", "(4x,2x)*"),
        ("(4,2x)*", "(4,2x)*"),
        ("(4,2x)(2x,4)", "(4,2x)*"),
        ("(2x,4)*", "(4,2x)*"),
        ("(4,4)*", "(4,4)"),
        ("(6,4)(2x,4)(4,6)(4,2x)", "(6,4)(2x,4)*"),
        ("([4x4],2)*", "([4x4],2)*"),
        ("(2,[44x])*", "([4x4],2)*"),
        ("54", "54"),
    ],
)
def test_forms(written: str, form: str) -> None:
    found = canonical(parse(written))
    assert found.text == form
    assert found == parse(form)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("531", "513"),
        ("51", "(4x,2x)"),
        ("441", "4414"),
        ("(4x,2x)", "(4,2x)*"),
        ("(4,2x)", "(4,2x)*"),
        ("[33]33", "333"),
        ("(4x,4)", "(4,4)"),
    ],
)
def test_different_patterns_stay_apart(one: str, other: str) -> None:
    assert canonical(parse(one)).text != canonical(parse(other)).text


@pytest.mark.parametrize(
    ("objects", "classes"),
    [
        # OEIS A065178, A065179, A065180: sequences of true period n up to rotation.
        (2, [1, 2, 6, 15, 42]),
        (3, [1, 3, 12, 42, 156]),
        (4, [1, 4, 20, 90, 420]),
    ],
)
def test_as_many_forms_as_rotation_classes(objects: int, classes: list[int]) -> None:
    for period, count in enumerate(classes, start=1):
        forms = {
            canonical(pattern).text
            for pattern in sequences(objects, period)
            if true_period(pattern) == period
        }
        assert len(forms) == count


def sequences(objects: int, period: int) -> list[Pattern]:
    """Every jugglable sequence: landings are a permutation, laid out over the objects."""
    total = objects * period
    found = []
    for landing in itertools.permutations(range(period)):
        least = [(land - beat) % period for beat, land in enumerate(landing)]
        rounds = (total - sum(least)) // period
        for more in itertools.product(range(rounds + 1), repeat=period):
            if sum(more) == rounds:
                values = [low + period * extra for low, extra in zip(least, more, strict=True)]
                found.append(parse("".join(VALUE_DIGITS[value] for value in values)))
    return found


HAND = st.sampled_from(["0", "2", "4", "4x", "2x", "[44]", "[42x]", "[2x4]", "6"])
PAIRS = st.lists(st.tuples(HAND, HAND), min_size=1, max_size=5)
SINGLES = st.lists(st.sampled_from(["0", "1", "3", "5", "[33]", "[31]", "[13]"]), min_size=1)


def in_pairs(pairs: list[tuple[str, str]]) -> str:
    return "".join(f"({left},{right})" for left, right in pairs)


@given(SINGLES, st.integers(0, 20), st.integers(1, 3))
def test_rotation_and_repetition_do_not_matter(throws: list[str], shift: int, repeats: int) -> None:
    shift %= len(throws)
    turned = (throws[shift:] + throws[:shift]) * repeats
    assert canonical(parse("".join(turned))) == canonical(parse("".join(throws)))


@given(PAIRS, st.integers(0, 20), st.booleans())
def test_nor_does_the_hand_in_pairs(
    pairs: list[tuple[str, str]], shift: int, mirrored: bool
) -> None:
    shift %= len(pairs)
    turned = pairs[shift:] + pairs[:shift]
    if mirrored:
        turned = [(right, left) for left, right in turned]
    assert canonical(parse(in_pairs(turned))) == canonical(parse(in_pairs(pairs)))
    whole = in_pairs(pairs) + in_pairs([(right, left) for left, right in pairs])
    assert canonical(parse(in_pairs(pairs) + "*")) == canonical(parse(whole))


@given(PAIRS.map(in_pairs) | SINGLES.map("".join))
def test_a_form_is_its_own_form_and_keeps_what_can_be_thrown(text: str) -> None:
    pattern = parse(text)
    form = canonical(pattern)
    assert parse(form.text) == form == canonical(form)
    assert form.multiplex == pattern.multiplex
    assert pattern.total * form.period == form.total * pattern.period
    if first_meeting(pattern) is None:
        check(form)
        assert form.objects == pattern.objects


@settings(max_examples=300)
@given(st.text("0123", min_size=1, max_size=24))
def test_no_rotation_is_larger(text: str) -> None:
    turns = parse(text).turns
    rotations = [text[shift:] + text[:shift] for shift in range(len(text))]
    assert largest_rotation(turns) == parse(max(rotations)).turns


@pytest.mark.parametrize(
    "text",
    ["97531" * 2000, "3" * 10_000, "3" * 9_999 + "4", "01" * 4_999 + "10", "(4,2x)" * 10_000],
)
def test_the_longest_patterns_take_no_time_to_speak_of(text: str) -> None:
    pattern = parse(text)
    started = time.thread_time()
    canonical(pattern)
    assert time.thread_time() - started < GENEROUS_SECONDS
