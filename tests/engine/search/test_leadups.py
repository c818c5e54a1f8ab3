"""Lead-ups: what holds for all targets, and that each way a coach knows is there where it applies.

The ways, goals and examples are common practice of the trade. That a pattern can be thrown is told
by following each object through the beats (`followed`), apart from the engine.
"""

import random
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import groupby, pairwise, permutations, product

import pytest
from followed import hands_by_beat, objects_followed

from throwcount.engine.errors import AverageError, CollisionError, LeadUpError
from throwcount.engine.hands.difficulty import difficulty
from throwcount.engine.patterns.flight import default_tempo
from throwcount.engine.patterns.notation import parse
from throwcount.engine.patterns.pattern import VALUE_DIGITS
from throwcount.engine.patterns.rules import read
from throwcount.engine.search.leadups import Step, lead_up, plain_pattern

LONGEST_TARGET = 40
"""Beats: longer patterns are not led up to."""

MOST_OBJECTS = 5
HIGHEST = 9
GOALS = ["flash", "qualify", "run"]

WAYS = {
    # A plain pattern is what runs; of an even one, each hand first throws its share alone.
    "gap mixed": "3 5 7 9 (4,4) (6,6)",
    "gap mixed mirror": "4 6 8",
    # A sister of a pattern of three objects, with two, teaches little.
    "gap mixed once": "531 441 45141 50505 315 (4x,4x) (6x,6x) (4,4)(4x,4x) [33]33",
    "gap mixed once mirror": "51 6316131",
    "gap mixed once family": "552 534 645 663 744 75751 97531 66661 756 867 714 453 24[54] 23[34]",
    "gap mixed once family mirror": (
        "71 91 b1 53 73 75 5551 7531 b97531 633 7333 (8,4) (6x,2x) [43]1 [44]4"
    ),
    # No pattern with a 4 among other throws is easier.
    "gap once family": "423",
    "gap once mirror": "42",
    # Hands that throw an odd number together have no plain pattern to come from.
    "gap mixed ": "(4,2x)*",
    "gap mixed mirror ": "(4x,2x)",
    "gap mixed family": "(6x,4)* (6,4x)* (8,6x)*",
}
CASES = [(text, set(ways.split())) for ways, texts in WAYS.items() for text in texts.split()]


@pytest.mark.parametrize(("text", "ways"), CASES, ids=[text for text, _ in CASES])
def test_each_way_that_applies_is_taken(text: str, ways: set[str]) -> None:
    steps = lead_up(read(text))
    kinds = {step.kind for step in steps}
    assert ways | {"target"} <= kinds
    # Whether these two apply follows from the pattern, and not from what is found to be easier.
    assert kinds & {"once", "mirror"} == ways & {"once", "mirror"}
    assert_sound(text, steps)


def assert_sound(text: str, steps: tuple[Step, ...]) -> None:
    """Check what holds for all lead-ups."""
    target = read(text)
    assert (steps[-1].pattern, steps[-1].kind, steps[-1].goal) == (target, "target", "run")
    hard = [step.difficulty for step in steps]
    assert hard == sorted(hard)
    for _, same in groupby(steps, key=lambda step: step.pattern):
        goals = [step.goal for step in same]
        assert goals == sorted(goals, key=GOALS.index)
    first = {(step.pattern, step.goal): number for number, step in reversed([*enumerate(steps)])}
    for pattern in {step.pattern for step in steps}:
        begun = [first[pattern, goal] for goal in GOALS if (pattern, goal) in first]
        assert begun == sorted(begun)
    for step in steps:
        assert_step(step, has_ones(text))


def assert_step(step: Step, ones: bool) -> None:
    objects = objects_followed(step.pattern.text)
    assert objects == step.pattern.objects
    assert step.why.endswith(".")
    assert ones or not has_ones(step.pattern.text)
    assert step.tempo == default_tempo(step.pattern)
    if step.goal == "run":
        assert step.catches >= 50
    else:
        assert step.catches == objects * {"flash": 1, "qualify": 2}[step.goal]
    hard = difficulty(step.pattern, step.tempo).number
    assert step.difficulty == hard or step.kind == "once"


def has_ones(text: str) -> bool:
    """Return whether two 1s follow each other, going round."""
    beats = [
        [value for throws in hands.values() for value, _ in throws] for hands in hands_by_beat(text)
    ]
    return any(1 in here and 1 in there for here, there in pairwise([*beats, beats[0]]))


@pytest.mark.parametrize("text", [text for text, ways in CASES if "once" in ways])
def test_once_and_twice_out_of_the_plain_pattern(text: str) -> None:
    target = read(text)
    steps = lead_up(target)
    once, *more, twice = (
        step for step in steps if step.kind == "once" and "the target" in step.why
    )
    assert once.excursion is not None
    if once.excursion.calm == 1:
        assert [step.goal for step in (once, *more, twice)] == ["qualify", "run", "run"]
        assert more[0].pattern == once.pattern
    else:
        assert (once.goal, more, twice.goal) == ("run", [], "run")
    for step, times in ((once, 1), (twice, 2)):
        out = step.excursion
        assert out is not None
        assert read(out.text.replace(" ", "")).turns == step.pattern.turns
        assert out.plain == plain_pattern(target)
        assert out.times == times
        assert out.text.split()[0] == out.plain.text * out.plain_turns
        assert out.cycle.text * times in out.text
        assert out.cycle.text in rotated(target.text) or target.kind == "sync" or target.multiplex
        # The goal is reached only when the target has come.
        assert step.catches > sum(1 for _ in out.plain.throws()) * out.plain_turns
        # Every object is thrown as often before, or more often where that makes it easier.
        before = sum(1 for _ in out.plain.throws()) * out.plain_turns
        assert before - target.objects * times * out.calm in {0, 1}
        if out.calm > 1:
            assert step.difficulty <= steps[-1].difficulty
            shorter = difficulty(replace(out, calm=out.calm - 1).round, step.tempo).number
            assert shorter > steps[-1].difficulty or times == 2


@pytest.mark.parametrize(
    ("text", "eased"),
    [
        # Common practice: a 5 out of the plain 4, with a 3 behind it.
        ("552", "4444 53"),
        ("55550", "4444 53"),
        # The target itself once is easier than the target that runs.
        ("531", None),
        # Around a 5, three objects take 2s or 1s, which are harder here than the empty hands.
        ("50505", None),
        # With four objects and nothing above a 4, all throws are 4s; one cannot cross alone.
        ("(4x,4x)", None),
        # An odd number of objects has no plain pattern of hands that throw together.
        ("(4x,2x)", None),
    ],
)
def test_where_the_target_once_is_no_easier_its_new_throw_comes_first(
    text: str, eased: str | None
) -> None:
    steps = lead_up(read(text))
    alone = [step for step in steps if step.kind == "once" and "the target" not in step.why]
    assert {step.excursion.text for step in alone if step.excursion} == {eased} - {None}
    for step in alone:
        assert step.difficulty == difficulty(step.pattern, step.tempo).number
        assert step.difficulty < steps[-1].difficulty


def rotated(text: str) -> list[str]:
    return [text[first:] + text[:first] for first in range(len(text))]


@pytest.mark.parametrize(
    ("text", "once", "twice"),
    [
        ("531", "333 531", "333333 531531"),
        ("315", "333 531", "333333 531531"),
        # That 4 leads into the shower of three, and 2 out of it, is common practice. With one more
        # 3, a round is even, and the 5s stay in one hand.
        ("51", "3333 4 51 2", "333333 4 5151 2"),
        ("97531", "55555 97531", "5555555555 9753197531"),
        ("(4x,4x)", "(4,4)(4,4) (4x,4x)", "(4,4)(4,4)(4,4)(4,4) (4x,4x)(4x,4x)"),
        ("24[54]", "55555 24[54]", "5555555555 24[54]24[54]"),
        # With few 4s, the whole is a hair harder than a 53 that runs: both hands throw the 5.
        ("53", "44444444 53", "4444444444444444 5353"),
    ],
)
def test_how_it_comes_out_of_the_plain_pattern(text: str, once: str, twice: str) -> None:
    told = [step.excursion.text for step in lead_up(read(text)) if step.excursion]
    assert list(dict.fromkeys(told)) == [once, twice]


@pytest.mark.parametrize(
    ("text", "others"),
    [("51", ["15"]), ("5551", ["5515"]), ("(4x,2x)", ["(2x,4x)"]), ("4", ["04"])],
)
def test_the_other_side(text: str, others: list[str]) -> None:
    mirrored = [step.pattern.text for step in lead_up(read(text)) if step.kind == "mirror"]
    assert list(dict.fromkeys(mirrored)) == others


@pytest.mark.parametrize("text", "4 5 6 7 8 9 53 645 744 97531 b97531 (4,4) (6x,4)* 24[54]".split())
def test_objects(text: str) -> None:
    target = read(text)
    steps = lead_up(target)
    counts = {step.pattern.objects for step in steps if step.kind != "gap"}
    # A plain pattern of N leads on from N - 1 and N - 2; and one hand alone has half of N.
    fewest = target.objects - 1 if any(step.kind == "once" for step in steps) else 2
    assert counts <= set(range(fewest, target.objects + 1))
    assert {step.pattern.objects for step in lead_up(target, 99)} == {
        step.pattern.objects for step in steps
    }
    fewer = lead_up(target, 3)
    assert_sound(text, fewer)
    assert min(step.pattern.objects for step in fewer) <= min(counts)


def test_the_tempo_may_be_another() -> None:
    def quick(_: object) -> float:
        return 300.0

    for step in lead_up(read("531"), tempo_of=quick):
        assert step.tempo == 300
        hard = difficulty(step.pattern, 300).number
        assert step.difficulty == hard or step.kind == "once"


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


def test_the_listing_is_complete() -> None:
    # Sequences of period n with exactly b objects: (b+1)^n - b^n (the same paper); with throws
    # up to 9 none of at most 3 beats and 3 objects is left out.
    for period, objects in product((1, 2, 3), (1, 2, 3)):
        count = sum(objects_followed(text) == objects for text in targets(period))
        assert count == (objects + 1) ** period - objects**period


@pytest.mark.parametrize("period", [1, 2, 3])
def test_every_target_of_few_beats(period: int) -> None:
    for text in one_rotation_each(targets(period)):
        assert_sound(text, lead_up(read(text)))


@pytest.mark.parametrize("period", [4, 5, 6, 7])
def test_some_longer_targets(period: int) -> None:
    chance = random.Random(period)
    for _ in range(30):
        landings = chance.sample(range(period), period)
        text = "".join(
            VALUE_DIGITS[(landing - beat) % period] for beat, landing in enumerate(landings)
        )
        if text.strip("0"):
            assert_sound(text, lead_up(read(text), chance.randint(1, 6)))


@pytest.mark.parametrize("text", ["z", "zzzzzzz", "9753197531" * 4, "[zzz]", "(y,y)", "k2"])
def test_large_targets(text: str) -> None:
    assert lead_up(read(text))[-1].pattern.text == text


@pytest.mark.parametrize(
    ("text", "has", "fragment"),
    [
        ("0", None, "needs no lead-up"),
        ("(0,0)", 3, "needs no lead-up"),
        ("3" * (LONGEST_TARGET + 1), None, "41 beats"),
        ("3", 0, "at least 1 object"),
    ],
)
def test_what_has_no_lead_up(text: str, has: int | None, fragment: str) -> None:
    with pytest.raises(LeadUpError, match=fragment):
        lead_up(read(text), has)


@pytest.mark.parametrize(("turns", "error"), [("54", AverageError), ("543", CollisionError)])
def test_what_cannot_be_thrown(turns: str, error: type[Exception]) -> None:
    with pytest.raises(error):
        lead_up(parse(turns))
