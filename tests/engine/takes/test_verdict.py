"""What is said of a take, and what is not said without a reason.

A confidence means something: of reports told as so sure, about that share is right.

What right means, and how the takes are made, stands in `judged_takes` and `throwcount.engine.takes.
confidence`; the takes here are none of those that the weights were fitted to.
"""

from collections.abc import Sequence
from functools import lru_cache
from random import Random

import pytest
from judged_takes import any_case, judged, judged_cadence
from thud_times import Heard, Manner, catches_of, take_of

from throwcount.engine.takes.report import listen_report
from throwcount.engine.takes.verdict import confidence_of

CLEAN = Manner(sd=0.012)


def said(
    text: str, manner: Manner, *, placed: bool = True, known: bool = True, seed: int = 1
) -> Sequence[str]:
    catches = catches_of(text, 200, 180)
    take = take_of(catches, Random(seed), manner)
    return listen_report(take.thuds, take.seconds, catches if known else (), placed=placed).remarks


def test_nothing_is_said_of_a_clean_take() -> None:
    assert said("3", CLEAN) == ()


@pytest.mark.parametrize(
    ("text", "manner", "fragment"),
    [
        ("(4,4)", CLEAN, "several objects are caught together and make one sound"),
        ("(4,4)", CLEAN, "left and right cannot be told apart"),
        ("[33]33", CLEAN, "several objects are caught together"),
        ("3", Manner(sd=0.012, missing=0.4), "expected sounds could be heard"),
        ("3", Manner(sd=0.012, extra=0.6), "thuds are no catch"),
        ("3", Manner(sd=0.055), "taken for their neighbours"),
    ],
)
def test_with_a_reason(text: str, manner: Manner, fragment: str) -> None:
    assert any(fragment in sentence for sentence in said(text, manner))


def test_where_the_call_is_not_on_the_take() -> None:
    sentences = said("531", Manner(sd=0.012, start=8.0), placed=False)
    assert len(sentences) == 1
    assert "The call is not on the take" in sentences[0]
    assert "12 ms of drift a minute" in sentences[0]


def test_later_than_anybody_is() -> None:
    """Slowly enough that this is no beat."""
    catches = catches_of("3", 90, 80)
    take = take_of(catches, Random(3), Manner(sd=0.012, lead=-0.28))
    (told,) = listen_report(take.thuds, take.seconds, catches, placed=True).remarks
    assert "28" in told
    assert "ms late on the whole, more than anybody does who hears the beat" in told


def test_a_pace_of_their_own() -> None:
    catches = catches_of("531", 200, 180)
    random = Random(1)
    late = [0.04 * (catch.time - catches[0].time) + random.gauss(0, CLEAN.sd) for catch in catches]
    take = take_of(catches, Random(2), Manner(start=4.0), asynchronies=late)
    report = listen_report(take.thuds, take.seconds, catches, placed=False)
    assert any("4.0% slower than asked for" in sentence for sentence in report.remarks)


def test_a_take_that_fits_at_two_places() -> None:
    """Recorded from the middle of a run of equal throws: no beat is told from the next."""
    catches = catches_of("3", 200, 200)
    take = take_of(catches, Random(3), Manner(sd=0.012))
    middle = [type(thud)(thud.time - 20) for thud in take.thuds if 20 < thud.time < 40]
    report = listen_report(middle, 20.0, catches, placed=False)
    place, clocks = report.remarks
    assert "a beat or a cycle earlier or later, so that hands and throws are a guess" in place
    assert "The call is not on the take" in clocks
    assert report.confidence < 0.3


def test_without_a_pattern() -> None:
    sentences = said("3", CLEAN, known=False)
    assert len(sentences) == 1
    assert "No pattern was given" in sentences[0]
    assert "say what was thrown" in sentences[0]


@pytest.mark.parametrize("text", ["441", "531"])
def test_an_uneven_rhythm_without_a_pattern(text: str) -> None:
    """Catches of a 1 fall between the beats, so that a steady juggler seems unsteady."""
    catches = catches_of(text, 200, 180)
    report = listen_report(take_of(catches, Random(1), CLEAN).thuds, 70.0)
    assert report.confidence < 0.8


def test_a_call_among_the_catches_without_a_pattern() -> None:
    """Clicks on each beat and words beside them, as loud as the catches, make no sure report."""
    catches, random = catches_of("441", 185, 120), Random(2)
    take = take_of(catches, random, CLEAN)
    beat = 60 / 185
    spoken = [index * beat + late for index in range(130) for late in (0.0, 0.11)]
    thuds = [*take.thuds, *(Heard(time) for time in spoken if random.random() < 0.8)]
    assert listen_report(sorted(thuds, key=lambda each: each.time), 45.0).confidence < 0.8


TAKES = 300
FIRST_SEED = 700_000
BINS = ((0.0, 0.4), (0.4, 0.8), (0.8, 1.0))
"""Without a pattern few takes are told to be more than 85 % sure."""

OFF = 0.14
"""How far the share that is right may be from what was told: two sd of a share of fifty."""


@lru_cache(maxsize=1)
def told() -> tuple[list[tuple[float, bool]], list[tuple[float, bool]]]:
    """Return how sure each report was and whether it was right, with a pattern and without."""
    against, alone = [], []
    for seed in range(FIRST_SEED, FIRST_SEED + TAKES):
        case = any_case(Random(seed), longest=150)
        if aligned := judged(case):
            against.append((confidence_of(aligned[0]), aligned[1]))
        if found := judged_cadence(case):
            alone.append((confidence_of(found[0]), found[1]))
    return against, alone


@pytest.mark.parametrize("known", [True, False], ids=["against a pattern", "alone"])
@pytest.mark.parametrize(("low", "high"), BINS)
def test_about_that_share_is_right(known: bool, low: float, high: float) -> None:
    inside = [each for each in told()[0 if known else 1] if low <= each[0] <= high]
    assert len(inside) >= 15
    sure = mean([confidence for confidence, _ in inside])
    right = mean([verdict for _, verdict in inside])
    assert right == pytest.approx(sure, abs=OFF)


@pytest.mark.parametrize("known", [True, False], ids=["against a pattern", "alone"])
def test_right_reports_are_told_apart_from_wrong_ones(known: bool) -> None:
    reports = told()[0 if known else 1]
    right = [confidence for confidence, verdict in reports if verdict]
    wrong = [confidence for confidence, verdict in reports if not verdict]
    above = mean([one > other for one in right for other in wrong])
    assert above > 0.85


def mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)
