"""What hinders a take is found, and only that.

People who tap along with a beat have a standard deviation of 2 % of the interval or more (Repp,
Psychon. Bull. Rev. 12 (2005) 969-992), so hands with 8 ms and more are never taken for clicks.
"""

from itertools import pairwise
from random import Random

import numpy as np
import pytest
from thud_times import Heard, Manner, catches_of, take_of

from throwcount.engine.takes.catches import Thuds, thuds_of
from throwcount.engine.takes.hindrances import clicks_among, tells_nothing, without_echo
from throwcount.engine.takes.report import TakeReport, listen_report

BEATS = [2.0 + 0.33 * index for index in range(120)]
CLICK_JITTER = 0.0008
LAG = 0.054
OFFSET = 4.321


def clicks(random: Random, *, rate: float = 1.0, share: float = 0.9) -> list[float]:
    return [
        OFFSET + beat * rate + random.gauss(0, CLICK_JITTER)
        for beat in BEATS
        if random.random() < share
    ]


def hands(random: Random, sd: float) -> list[float]:
    return [OFFSET + beat + 0.11 + random.gauss(0, sd) for beat in BEATS]


def thuds(times: list[float]) -> Thuds:
    return thuds_of([Heard(time) for time in sorted(times)])


def kinds(report: TakeReport) -> list[str]:
    return [each.kind for each in report.hindrances]


@pytest.mark.parametrize("rate", [1.0, 1.0001, 0.9998])
@pytest.mark.parametrize("sd", [0.008, 0.030])
def test_clicks_are_told_from_catches_between_them(rate: float, sd: float) -> None:
    random = Random(3)
    played, caught = clicks(random, rate=rate), hands(random, sd)
    heard = thuds([*played, *caught])
    left = set(np.delete(heard.times, clicks_among(heard, BEATS, placed=False)).tolist())
    assert len(left & set(played)) <= 1  # moved by a beat, all but the one at an end fit
    assert len(left) >= 0.9 * len(caught)


@pytest.mark.parametrize("sd", [0.008, 0.012, 0.030])
@pytest.mark.parametrize("placed", [True, False])
def test_no_hands_are_clicks(sd: float, placed: bool) -> None:
    for seed in range(20):
        heard = thuds(hands(Random(seed), sd))
        beats = [OFFSET + 0.11 + beat for beat in BEATS] if placed else BEATS
        assert not len(clicks_among(heard, beats, placed=placed))


@pytest.mark.parametrize("beats", [[], [1.0], BEATS])
@pytest.mark.parametrize("count", [0, 1, 3])
def test_a_few_thuds_tell_of_no_clicks(beats: list[float], count: int) -> None:
    heard = thuds(range(count))
    assert not len(clicks_among(heard, beats, placed=False))
    assert not len(clicks_among(heard, beats, placed=True))


@pytest.mark.parametrize("share", [0.3, 1.0])
def test_an_echo_is_folded_whether_weaker_or_not(share: float) -> None:
    random = Random(5)
    first = hands(random, 0.015)
    echoes = [time + LAG + random.gauss(0, 0.0004) for time in first if random.random() < share]
    kept, lag = without_echo(thuds([*first, *echoes]))
    assert lag == pytest.approx(LAG, abs=0.001)
    assert kept.times.tolist() == pytest.approx(sorted(first))


@pytest.mark.parametrize("pattern", ["(4,4)", "51", "744", "423", "[33]33"])
def test_catches_that_follow_closely_are_no_echo(pattern: str) -> None:
    for seed in range(5):
        take = take_of(catches_of(pattern, 190, 160), Random(seed), Manner(sd=0.010))
        kept, lag = without_echo(thuds_of(take.thuds))
        assert lag is None
        assert len(kept) == len(take.thuds)


def test_clicks_that_drown_the_catches_tell_nothing() -> None:
    catches = catches_of("3", 180, 120)
    own = [Heard(catch.time + 7.0) for catch in catches]
    report = listen_report(own, 60.0, catches)
    assert kinds(report) == ["own clicks"]
    assert "--headphones" in report.hindrances[0].text
    assert report.confidence == 0.0
    assert report.steadiness is None
    assert report.drops == ()
    assert report.positions == ()


def test_a_take_without_catches_says_what_to_do() -> None:
    catches = catches_of("3", 180, 120)
    few = [Heard(catch.time) for catch in catches[10:14]]
    report = listen_report(few, 60.0, catches, placed=True)
    assert kinds(report) == ["too few thuds"]
    assert report.confidence == 0.0


def test_a_doubtful_place_lowers_the_confidence() -> None:
    catches = catches_of("531", 180, 240)
    heard = take_of(catches, Random(2), Manner()).thuds
    sure, doubtful = (
        listen_report(heard, 100.0, catches, placed=True, certainty=certainty)
        for certainty in (1.0, 0.5)
    )
    assert doubtful.confidence == pytest.approx(sure.confidence / 2)
    assert doubtful.steadiness == sure.steadiness
    assert all(before.time < after.time for before, after in pairwise(sure.sounds))


@pytest.mark.parametrize(("count", "kind"), [(9, "own clicks"), (6, None)])
def test_a_few_catches_that_are_too_even_are_clicks(count: int, kind: str | None) -> None:
    nothing = tells_nothing(count, (count, 0.003))
    assert (nothing and nothing.kind) == kind


def test_an_echo_is_known_by_clear_thuds_among_doubtful_ones() -> None:
    random = Random(9)
    first = hands(random, 0.015)
    doubtful = [Heard(random.uniform(first[0], first[-1]), 0.05) for _ in range(2 * len(first))]
    echoes = [Heard(time + LAG + random.gauss(0, 0.0004), 0.2) for time in first[::2]]
    heard = thuds_of([*map(Heard, first), *echoes, *doubtful])
    kept, lag = without_echo(heard)
    assert lag == pytest.approx(LAG, abs=0.001)
    assert len(heard) - len(kept) >= 0.9 * len(echoes)
    assert set(first) <= set(kept.times.tolist())
