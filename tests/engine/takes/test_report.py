"""The whole report: each part where it belongs, for takes of every sort."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from random import Random
from statistics import mean, pstdev

import pytest
from thud_times import Dropped, Heard, Manner, catches_of, take_of

from throwcount.engine.takes.catches import Catch
from throwcount.engine.takes.report import listen_report

RUN = catches_of("531", 200, 180)
SD = 0.012


TAKE = take_of(RUN, Random(1), Manner(sd=0.012), [Dropped(120, resumed=4.0)])


def test_against_a_pattern() -> None:
    report = listen_report(TAKE.thuds, TAKE.seconds, RUN, placed=True)
    assert report.known
    assert report.confidence > 0.7
    assert report.tempo == pytest.approx(200, rel=0.015)
    assert report.readings == ()
    assert report.steadiness is not None
    assert report.steadiness.lead == pytest.approx(-0.05, abs=0.01)
    assert report.hands is not None
    assert [each.throws for each in report.positions] == [("5",), ("3",), ("1",)]
    assert len(report.drops) == 1
    assert len(report.sounds) == report.steadiness.expected
    heard = sum(sound.late is not None for sound in report.sounds)
    assert heard == report.steadiness.heard
    assert heard + len(report.extra_times) == report.thuds


def test_alone() -> None:
    catches = catches_of("3", 200, 180)
    take = take_of(catches, Random(2), Manner(sd=0.012), [Dropped(100, resumed=4.0)])
    report = listen_report(take.thuds, take.seconds)
    assert not report.known
    assert report.tempo == pytest.approx(200, rel=0.01)
    assert report.readings[0].tempo == pytest.approx(200, rel=0.01)
    assert report.confidence > 0.8
    assert report.steadiness is not None
    assert report.steadiness.lead is None
    assert report.steadiness.interval_sd == pytest.approx(0.012 * 2**0.5, rel=0.25)
    assert (report.hands, report.positions) == (None, ())
    (drop,) = report.drops
    assert drop.catch is None
    assert drop.time == pytest.approx(catches[100].time - 0.05, abs=1.0)


def test_what_is_heard_before_and_after_the_juggling_is_no_drop() -> None:
    """A recorder is put down, hands are filled; at the end everything is put away."""
    catches = catches_of("3", 180, 120)
    take = take_of(catches, Random(8), Manner(sd=0.012, extra=0.0, start=12.0))
    around = thuds(1.0, 1.4, 7.5, 9.0, take.seconds + 6, take.seconds + 6.7, take.seconds + 9)
    heard = sorted([*take.thuds, *around], key=lambda thud: thud.time)
    report = listen_report(heard, take.seconds + 10)
    assert report.drops == ()
    assert report.extra_times == tuple(thud.time for thud in around)
    assert report.steadiness is not None
    assert report.steadiness.expected == pytest.approx(120, abs=1)


def test_fell_apart() -> None:
    random = Random(3)
    catches = catches_of("3", 200, 240)
    late = [random.gauss(0, 0.01 if index < 150 else 0.035) for index in range(240)]
    take = take_of(catches, random, Manner(), asynchronies=late)
    report = listen_report(take.thuds, take.seconds, catches, placed=True)
    assert report.split is not None
    assert report.split.time == pytest.approx(catches[150].time, abs=3)


@pytest.mark.parametrize(("pattern", "tempo"), [("3", 180), ("534", 220), ("3", 240)])
@pytest.mark.parametrize("wider", [2, 3])
def test_what_fell_apart_is_not_told_as_steadier_than_it_was(
    pattern: str, tempo: int, wider: int
) -> None:
    """In the mean of some takes; wide catches are not extra."""
    ratios = []
    for seed in range(6):
        random = Random(seed)
        catches = catches_of(pattern, tempo, 150)
        worse = 0.6 * len(catches)
        sds = [SD if index < worse else wider * SD for index in range(len(catches))]
        late = [random.gauss(0, sd) for sd in sds]
        take = take_of(catches, random, Manner(), asynchronies=late)
        report = listen_report(take.thuds, take.seconds, catches, placed=True)
        assert report.steadiness is not None
        ratios.append(report.steadiness.asynchrony_sd / pstdev(late))
        if report.split is not None:
            assert report.split.after == pytest.approx(wider * SD, rel=0.3)
        assert report.thuds == report.steadiness.heard + len(report.extra_times)
    assert mean(ratios) == pytest.approx(1, abs=0.06)


@pytest.mark.parametrize("known", [True, False])
def test_it_is_plain_data(known: bool) -> None:
    """Only what JSON has, and that very type: a number of an array would pass for a float."""
    report = listen_report(TAKE.thuds, TAKE.seconds, RUN if known else (), placed=True)
    values = list(leaves(asdict(report)))
    assert {type(value) for value in values} <= {int, float, str, bool, type(None)}
    assert all(math.isfinite(value) for value in values if isinstance(value, float))


def leaves(value: object) -> Iterator[object]:
    """Yield every value that is no container."""
    if isinstance(value, dict):
        value = tuple(value.values())
    if isinstance(value, tuple):
        for each in value:
            yield from leaves(each)
    else:
        yield value


def thuds(*times: float) -> list[Heard]:
    return [Heard(time) for time in times]


@pytest.mark.parametrize(
    ("heard", "seconds", "expected", "fragment"),
    [
        ([], 60.0, 0, "No catch was heard on this take"),
        ([], 60.0, 30, "No catch was heard on this take"),
        (thuds(1.0), 60.0, 0, "Too little of what was heard"),
        (thuds(1.0, 2.0), 60.0, 0, "Too little of what was heard"),
        (thuds(0.1), 0.5, 30, "Too little of what was heard"),
        (thuds(3.0), 60.0, 30, "Too little of what was heard"),
        (thuds(*[5.0] * 40), 60.0, 0, "Too little of what was heard"),
    ],
)
def test_takes_on_which_there_is_little(
    heard: Sequence[Heard], seconds: float, expected: int, fragment: str
) -> None:
    catches = catches_of("3", 200, expected) if expected else []
    report = listen_report(heard, seconds, catches, placed=True)
    assert [each.kind for each in report.hindrances] == ["too few thuds"]
    assert fragment in report.hindrances[0].text
    assert "a guess" not in " ".join(report.remarks)  # as nothing is told
    assert report.confidence == 0
    assert report.thuds == len(heard)


AT_ONCE = [replace(catch, time=10.0) for catch in RUN]
LATER = [replace(catch, time=catch.time + 1e5) for catch in RUN]


@pytest.mark.parametrize(
    ("catches", "heard", "seconds", "placed", "sounds"),
    [
        (RUN[:1], TAKE.thuds, TAKE.seconds, True, 1),
        (RUN[:1], TAKE.thuds, TAKE.seconds, False, 1),
        (AT_ONCE, TAKE.thuds, TAKE.seconds, True, 1),
        (AT_ONCE, TAKE.thuds, TAKE.seconds, False, 1),
        (LATER, TAKE.thuds, TAKE.seconds, True, 0),
        # The catch falls due as the take ends; the only thud comes before, or after the end.
        (RUN[:1], thuds(RUN[0].time - 0.1), RUN[0].time, True, 1),
        (RUN[:1], thuds(RUN[0].time + 0.1), RUN[0].time + 0.05, True, 0),
        ((), thuds(*[5.0] * 40), 60.0, True, 1),
        (RUN, thuds(*[5.0] * 40), 0.0, False, 0),
    ],
)
def test_nothing_odd_makes_a_sure_report(
    catches: Sequence[Catch], heard: Sequence[Heard], seconds: float, placed: bool, sounds: int
) -> None:
    report = listen_report(heard, seconds, catches, placed=placed)
    assert len(report.sounds) == sounds
    assert report.confidence == 0
    assert report.steadiness is None
    assert report.hindrances


@pytest.mark.parametrize("change", ["take far longer", "call far later"])
def test_what_changes_nothing(change: str) -> None:
    """How long the recorder ran on, or on whose clock the call is, where it is not on the take."""
    seconds = 3600.0 if change == "take far longer" else TAKE.seconds
    catches = LATER if change == "call far later" else RUN
    usual = listen_report(TAKE.thuds, TAKE.seconds, RUN)
    report = listen_report(TAKE.thuds, seconds, catches)
    assert report.steadiness is not None
    assert usual.steadiness is not None
    assert report.steadiness.heard == usual.steadiness.heard
    assert report.steadiness.asynchrony_sd == pytest.approx(usual.steadiness.asynchrony_sd)
    assert len(report.drops) == len(usual.drops) == 1


@pytest.mark.parametrize("after", [8, 25])
def test_nothing_after_a_drop_is_a_catch_where_the_spread_changes_before_it(after: int) -> None:
    catches = catches_of("531", 200, 180)
    random = Random(7)
    made = [each.time + random.gauss(0, 0.008 if each.beat < 75 else 0.030) for each in catches]
    end = made[149]
    steps = [end + 1 + random.uniform(0, 9) for _ in range(after)]
    report = listen_report(thuds(*sorted((*made[:150], *steps))), end + 10, catches, placed=True)
    (drop,) = report.drops
    assert report.split is not None
    assert all(each.late is None for each in report.sounds if each.time > drop.time)


def test_a_few_thuds_against_a_whole_pattern_tell_nothing() -> None:
    """Where the stop is the whole take there is nothing to fit."""
    few = thuds(3.25, 3.33, 3.55, 3.9, 3.96, 25.23, 28.77)
    report = listen_report(few, 30.0, catches_of("531", 300, 60), placed=True)
    assert report.confidence < 0.3


def test_noise_against_a_pattern_is_no_sure_report() -> None:
    random = Random(4)
    catches = catches_of("531", 200, 180)
    noise = thuds(*sorted(random.uniform(0, 60) for _ in range(200)))
    report = listen_report(noise, 60.0, catches, placed=True)
    assert report.confidence < 0.3
    assert [each.kind for each in report.hindrances] == ["too few thuds"]
    assert report.remarks == ()  # as nothing is told


def test_thuds_out_of_order_are_put_in_order() -> None:
    catches = catches_of("3", 200, 60)
    take = take_of(catches, Random(5), Manner())
    mixed = Random(6).sample(take.thuds, len(take.thuds))
    assert listen_report(mixed, take.seconds, catches, placed=True) == listen_report(
        take.thuds, take.seconds, catches, placed=True
    )


def test_doubtful_thuds_off_the_beat_are_never_told() -> None:
    random = Random(4)
    doubtful = [Heard(random.uniform(0, TAKE.seconds), 0.05) for _ in range(60)]
    heard = sorted([*TAKE.thuds, *doubtful], key=lambda thud: thud.time)
    plain = listen_report(TAKE.thuds, TAKE.seconds, RUN, placed=True)
    report = listen_report(heard, TAKE.seconds, RUN, placed=True)
    assert {*report.extra_times} <= {thud.time for thud in TAKE.thuds}
    assert abs(report.thuds - plain.thuds) <= 4
    alone = [listen_report(each, TAKE.seconds) for each in (TAKE.thuds, heard)]
    assert alone[0].thuds == alone[1].thuds
    assert alone[0].tempo == alone[1].tempo


@pytest.mark.parametrize("catches", [(), RUN])
def test_where_all_is_doubtful_nothing_was_heard(catches: Sequence[Catch]) -> None:
    report = listen_report([Heard(time / 7, 0.2) for time in range(60)], 10.0, catches)
    assert (report.thuds, report.extra_times) == (0, ())
    assert "No catch was heard" in report.hindrances[0].text
