"""Takes made of recorded impacts: what is told of them is right, or it is told why nothing is.

The recordings are others' (`tests/helpers/impacts/NOTICE`), and the timing follows published models
(`bank_plans`). Figures on many such takes are those of `tests/benchmarks/bench_listening.py`.
"""

from functools import lru_cache

import pytest
from bank_plans import BEDS, HAPPENINGS, KINDS, OWN_CLICKS, Plan, plan_of
from played import Recorded
from small_takes import small_take

from throwcount.caller.reports.answers import is_uneven
from throwcount.engine.takes.report import TakeReport, listen_report
from throwcount.sounds.listening.thuds import find_thuds
from throwcount.sounds.samples import RATE

BLOCK = 4_800
NEAR_SD, NEAR_SHARE = 0.003, 0.1
ON_HEADPHONES = len(BEDS) * len(HAPPENINGS)
"""The number of the first take without the call."""
EASY = ON_HEADPHONES + BEDS.index("babble") * len(HAPPENINGS)
"""That of one whose juggler is steady, in a cascade of three."""
CLICKS_ALONE = len(KINDS) - OWN_CLICKS + 1


@lru_cache(maxsize=1)
def told(number: int, **circumstances: bool) -> tuple[Plan, TakeReport]:
    """Return what happens on a take of the bank, and what is told of it."""
    plan = plan_of("first", number)
    samples = small_take(plan, **circumstances)
    thuds = list(find_thuds(Recorded(samples).blocks(BLOCK), RATE))
    beats = [beat.time for beat in plan.piece().timeline.beats()]
    return plan, listen_report(thuds, len(samples) / RATE, plan.catches, beats=beats)


def kinds(report: TakeReport) -> list[str]:
    return [each.kind for each in report.hindrances]


def near(plan: Plan, report: TakeReport) -> bool:
    steady = report.steadiness
    within = max(NEAR_SD, NEAR_SHARE * plan.sd)
    return steady is not None and abs(steady.asynchrony_sd - plan.sd) <= within


@pytest.mark.parametrize("happening", ["steady", "planted", "stop"])
def test_the_spread_is_that_of_the_hands(happening: str) -> None:
    plan, report = told(ON_HEADPHONES + HAPPENINGS.index(happening))
    assert kinds(report) == []
    assert near(plan, report)
    if happening == "planted":
        uneven = [each for each in report.positions if is_uneven(each, len(report.positions))]
        assert [each.cycle_beats for each in uneven] == [(plan.planted_beat,)]
        assert uneven[0].spread.mean == pytest.approx(plan.planted, rel=0.3)
    if happening == "stop":
        assert plan.drop is not None
        beat = plan.catches[plan.drop].beat
        assert [abs(drop.catch.beat - beat) <= 2 for drop in report.drops if drop.catch] == [True]


def test_an_echo_from_a_wall_is_named_and_folded() -> None:
    plan, report = told(EASY, slap=True)
    assert kinds(report) == ["echo"]
    assert "54 ms" in report.hindrances[0].text
    assert near(plan, report)


def test_clicks_that_drown_the_catches_are_no_juggler() -> None:
    plan, report = told(CLICKS_ALONE, aloud=True)
    assert "own clicks" in kinds(report)
    assert report.confidence <= 0.5 or near(plan, report)
