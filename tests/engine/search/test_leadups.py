"""Lead-ups: what holds for all targets, and what some of them look like."""

import random
from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import pairwise, permutations, product

import pytest

from throwcount.engine.errors import AverageError, CollisionError, LeadUpError
from throwcount.engine.patterns.notation import parse
from throwcount.engine.patterns.pattern import VALUE_DIGITS, Pattern
from throwcount.engine.patterns.rules import read
from throwcount.engine.search.leadups import Step, lead_up

LONGEST_TARGET = 40
"""Beats: longer patterns are not led up to."""


MOST_OBJECTS = 5
HIGHEST = 9


def targets(period: int) -> Iterator[str]:
    """Yield every alternating pattern of a period, with 1 to 5 objects and throws up to 9.

    They are made from the permutations of their landings (Buhler, Eisenbud, Graham & Wright,
    Juggling drops and descents, Amer. Math. Monthly 101 (1994) 507-519), not by the engine.
    """
    for landings in permutations(range(period)):
        least = [(landing - beat) % period for beat, landing in enumerate(landings)]
        for values in product(*(range(value, HIGHEST + 1, period) for value in least)):
            if 0 < sum(values) <= MOST_OBJECTS * period:
                yield "".join(VALUE_DIGITS[value] for value in values)


def one_rotation_each(texts: Iterable[str]) -> Iterator[str]:
    return (text for text in texts if text == max(rotated(text)))


def rotated(text: str) -> list[str]:
    return [text[first:] + text[:first] for first in range(len(text))]


def throwable(text: str, objects: int) -> bool:
    """Return whether all landings differ and the mean is the number of objects.

    Chung & Graham, Primitive juggling sequences, Amer. Math. Monthly 115 (2008) 185-194.
    """
    values = [VALUE_DIGITS.index(digit) for digit in text]
    landings = {(beat + value) % len(values) for beat, value in enumerate(values)}
    return len(landings) == len(values) and sum(values) == objects * len(values)


def assert_sound(target: Pattern, steps: tuple[Step, ...], safe: int) -> None:
    new = VALUE_DIGITS[target.highest]
    counts = [step.pattern.objects for step in steps]
    points = [step.difficulty.number for step in steps]
    assert steps[-1].pattern == target
    assert counts[0] < target.objects
    assert counts[0] < safe or counts[0] <= 1
    assert all(after - before in {0, 1} for before, after in pairwise(counts))
    assert points == sorted(points)
    assert all(step.why.endswith(".") for step in steps)
    for step in steps:
        assert (new in step.pattern.text) != step.preparation
        assert step.preparation == step.why.startswith("Preparation")


def meets(step: Step) -> bool:
    """Return whether all goes well from the plain pattern into a step's, round it, and back.

    In such a run every object lands where one is thrown, and only there.
    """
    assert step.way_in is not None
    assert step.way_out is not None
    plain = [step.pattern.objects] * (HIGHEST + 1)
    names = (*step.way_in, *step.pattern.text * 3, *step.way_out)
    run = [*plain, *map(VALUE_DIGITS.index, names), *plain]
    landed = Counter(beat + value for beat, value in enumerate(run) if value)
    return all(landed[beat] == (run[beat] > 0) for beat in range(HIGHEST, len(run)))


def check_target(text: str, safe: int | None = None) -> None:
    target = read(text)
    steps = lead_up(target, safe)
    assert_sound(target, steps, safe or max(target.objects - 1, 1))
    for step in steps:
        assert throwable(step.pattern.text, step.pattern.objects), (text, step.pattern.text)
        # Only a target with one object is prepared, as nothing can be thrown with fewer.
        assert step.preparation == (step.pattern.objects == 0), (text, step.pattern.text)
        assert meets(step), (text, step)


def test_the_listing_is_complete() -> None:
    # Sequences of period n with exactly b objects: (b+1)^n - b^n (the same paper); with throws
    # up to 9 none of at most 3 beats and 3 objects is left out.
    for period, objects in product((1, 2, 3), (1, 2, 3)):
        count = sum(throwable(text, objects) for text in targets(period))
        assert count == (objects + 1) ** period - objects**period


@pytest.mark.parametrize("period", [1, 2, 3, 4])
def test_every_target_in_every_rotation(period: int) -> None:
    for text in targets(period):
        check_target(text)


def test_every_target_of_five_beats_in_one_rotation() -> None:
    for text in one_rotation_each(targets(5)):
        check_target(text)


@pytest.mark.parametrize("period", [6, 7, 8, 9])
def test_some_longer_targets(period: int) -> None:
    chance = random.Random(period)
    for _ in range(60):
        check_target(chance.choice(longer_targets(period, chance)))


def longer_targets(period: int, chance: random.Random) -> list[str]:
    """Return targets with the landings of one random permutation."""
    while True:
        landings = chance.sample(range(period), period)
        least = [(landing - beat) % period for beat, landing in enumerate(landings)]
        if max(least) <= HIGHEST and 0 < sum(least) <= MOST_OBJECTS * period:
            return rotated("".join(VALUE_DIGITS[value] for value in least))


@pytest.mark.parametrize("period", [1, 2, 3])
def test_every_number_of_objects_that_may_be_safe(period: int) -> None:
    for text in one_rotation_each(targets(period)):
        for safe in range(1, MOST_OBJECTS + 2):
            check_target(text, safe)


@pytest.mark.parametrize(
    "text",
    "(4,4) (4,2x)* (4x,2x) (6x,4)* (2,2) (0,2) (8,4) (6x,2x)* [33]33 [22] [22]2 [234] 24[54] "
    "([44x],2)* ([22],2) ([44],0)(0,[44])".split(),
)
@pytest.mark.parametrize("safe", [None, 1, 3, 9])
def test_pairs_and_multiplexes(text: str, safe: int | None) -> None:
    target = read(text)
    steps = lead_up(target, safe)
    assert_sound(target, steps, safe or max(target.objects - 1, 1))
    for step in steps:
        assert read(step.pattern.text).objects == step.pattern.objects


@pytest.mark.parametrize(
    ("text", "safe", "patterns"),
    [
        # One object, two, three: how the three-object cascade is usually taught.
        ("3", None, "300 330 3"),
        ("5", 3, "5111 5511 5551 5"),
        ("97531", 3, "90001 92031 92531 97531"),
        ("1", None, "0 1"),
        ("2", None, "20 2"),
    ],
)
def test_some_plans(text: str, safe: int | None, patterns: str) -> None:
    assert [step.pattern.text for step in lead_up(read(text), safe)] == patterns.split()


@pytest.mark.parametrize(
    ("text", "index", "fragment"),
    [
        ("3", 0, "Get to know the 3 with 1 object: it comes once in 3 beats."),
        ("3", 1, "on beat 1 of every 3, counted from 0, an empty hand becomes a 3."),
        ("3", -1, "The target itself. One object more"),
        ("5", 2, "No object more: the 5 comes more often, 3 times in 4 beats."),
        ("8", -1, "a 4 becomes an 8"),
        ("97531", -1, "a held 2 becomes a 7"),
        ("1", 0, "Preparation without objects"),
        ("1", -1, "Now the 1 comes in, on every beat."),
        ("[22]", -1, "twice on every beat"),
    ],
)
def test_the_reasons(text: str, index: int, fragment: str) -> None:
    assert fragment in lead_up(read(text))[index].why


@pytest.mark.parametrize(
    ("text", "way_in", "way_out"),
    [
        # That 4 leads into the shower of three, 51, and 2 out of it, is common practice.
        ("51", ("4",), ("2",)),
        ("531", (), ()),
        ("315", ("5",), ("2", "2")),
        ("(4,2x)*", (), ()),
        # From three due at once and one more, no throw of a 3 or less fills the fourth beat.
        ("[33]33", ("1",), ("[43]",)),
    ],
)
def test_ways_to_begin_and_to_end(
    text: str, way_in: tuple[str, ...], way_out: tuple[str, ...] | None
) -> None:
    last = lead_up(read(text))[-1]
    assert (last.way_in, last.way_out) == (way_in, way_out)


@pytest.mark.parametrize("text", ["z", "zzzzzzz", "9753197531" * 4, "[zzz]"])
def test_large_targets(text: str) -> None:
    target = read(text)
    assert lead_up(target)[-1].pattern == target


@pytest.mark.parametrize(
    ("text", "safe", "fragment"),
    [
        ("0", None, "needs no lead-up"),
        ("(0,0)", 3, "needs no lead-up"),
        ("3" * (LONGEST_TARGET + 1), None, "41 beats"),
        ("3", 0, "at least 1 object"),
    ],
)
def test_what_has_no_lead_up(text: str, safe: int | None, fragment: str) -> None:
    with pytest.raises(LeadUpError, match=fragment):
        lead_up(read(text), safe)


@pytest.mark.parametrize(("turns", "error"), [("54", AverageError), ("543", CollisionError)])
def test_what_cannot_be_thrown(turns: str, error: type[Exception]) -> None:

    with pytest.raises(error):
        lead_up(parse(turns))
