"""What is said of a take, and what is not said without a reason."""

from collections.abc import Sequence
from random import Random

import pytest
from thud_times import Manner, catches_of, take_of

from engine.catching.report import listen_report

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
    assert "ms late on the whole, which nobody is who hears the beat" in told


def test_a_pace_of_their_own() -> None:
    catches = catches_of("531", 200, 180)
    late = [0.04 * (catch.time - catches[0].time) for catch in catches]
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
