"""Taps with the errors that people make against the beats that they meant."""

from collections.abc import Sequence

import numpy as np
import pytest
import scipy.stats

from throwcount.caller.plans.taps import ListedTaps, SteadyTaps, TapsError, listed_taps, steady_taps

FEWEST = 8
"""Taps: two bars of four say something about a tempo."""


def beats(tempo: float, count: int, first: float = 1.5) -> np.ndarray:
    return first + np.arange(count) * 60.0 / tempo


def tapped(
    times: np.ndarray, spread: float = 0.02, early: float = 0.0, seed: int = 1
) -> list[float]:
    random = np.random.default_rng(seed)
    return sorted((times - early + random.normal(0.0, spread, len(times))).tolist())


@pytest.mark.parametrize("tempo", [40.0, 60.0, 97.3, 120.0, 181.0])
@pytest.mark.parametrize("count", [FEWEST, 16, 64, 400])
def test_taps_without_error_are_the_beats(tempo: float, count: int) -> None:
    found = steady_taps(beats(tempo, count).tolist())
    assert found.tempo == pytest.approx(tempo, rel=1e-9)
    assert found.first == pytest.approx(1.5, abs=1e-9)
    assert found.spread == pytest.approx(0.0, abs=1e-9)
    assert (found.beats, found.missed, found.doubles, found.extra) == (count, 0, (), ())
    assert not found.moves


@pytest.mark.parametrize("seed", range(5))
def test_it_is_the_line_of_another_library(seed: int) -> None:
    taps = tapped(beats(110.0, 40), 0.012, seed=seed)
    line = scipy.stats.linregress(np.arange(40), taps)
    found = steady_taps(taps)
    assert found.tempo == pytest.approx(60.0 / line.slope, rel=1e-9)
    assert found.first == pytest.approx(line.intercept, abs=1e-9)
    error = 60.0 / line.slope**2 * 2.0 * line.stderr
    assert found.tempo_error == pytest.approx(error, rel=1e-6)


@pytest.mark.parametrize("tempo", [70.0, 120.0, 170.0])
@pytest.mark.parametrize("share", [0.01, 0.03, 0.06])
def test_the_tempo_is_as_near_as_is_said(tempo: float, share: float) -> None:
    spread = share * 60.0 / tempo
    within = [
        abs(found.tempo - tempo) <= found.tempo_error
        for seed in range(60)
        for found in [steady_taps(tapped(beats(tempo, 32), spread, early=0.04, seed=seed))]
    ]
    assert sum(within) >= 50  # 19 of 20 are promised; 50 of 60 or more have a chance of 99.9 %


def test_an_even_lead_is_kept() -> None:
    found = steady_taps(tapped(beats(120, 60), 0.01, early=0.05))
    assert found.first == pytest.approx(1.45, abs=0.01)


@pytest.mark.parametrize("tempo", [60.0, 120.0, 180.0])
def test_missed_beats_are_counted_and_change_nothing(tempo: float) -> None:
    times = beats(tempo, 40)
    left = np.delete(times, [5, 6, 17, 30, 31, 32])
    found = steady_taps(tapped(left, 0.015))
    assert found.tempo == pytest.approx(tempo, rel=0.005)
    assert (found.missed, found.beats) == (6, 40)
    assert "6 beats had no tap" in " ".join(found.sentences)


@pytest.mark.parametrize("tempo", [60.0, 120.0, 180.0])
@pytest.mark.parametrize("after", [0.03, 0.1])
def test_double_taps_are_left_out_and_told(tempo: float, after: float) -> None:
    times = beats(tempo, 40)
    taps = sorted([*tapped(times, 0.01), *(float(times[beat]) + after for beat in (3, 12, 13))])
    found = steady_taps(taps)
    assert found.tempo == pytest.approx(tempo, rel=0.003)
    assert len(found.doubles) == 3
    assert found.missed == 0
    assert "3 taps right after another" in " ".join(found.sentences)


def test_every_tap_may_be_doubled() -> None:
    times = beats(100.0, 30)
    found = steady_taps(sorted([*times.tolist(), *(times + 0.08).tolist()]))
    assert found.tempo == pytest.approx(100.0, rel=1e-6)
    assert len(found.doubles) == 30


def test_a_tap_far_from_any_beat_is_left_out_and_told() -> None:
    taps = tapped(beats(100.0, 40), 0.01)
    taps[20] += 0.25
    found = steady_taps(taps)
    assert found.tempo == pytest.approx(100.0, rel=0.002)
    assert found.extra == (pytest.approx(taps[20]),)
    assert found.missed == 1
    assert "1 far from any beat" in " ".join(found.sentences)


@pytest.mark.parametrize(
    ("ends_at", "moves"), [(1.0, False), (1.003, False), (1.05, True), (0.9, True)]
)
def test_a_tempo_that_moves_is_told(ends_at: float, moves: bool) -> None:
    told = 0
    for seed in range(20):
        intervals = np.linspace(0.5, 0.5 / ends_at, 60)
        times = np.concatenate(([0.0], np.cumsum(intervals)))
        told += steady_taps(tapped(times, 0.012, seed=seed)).moves
    assert told >= 18 if moves else told <= 2


@pytest.mark.parametrize(
    ("taps", "told"),
    [
        ([], "No tempo can be told from 0 taps: at least 8"),
        (beats(120, 7).tolist(), "told from 7 taps"),
        ([1.0, 1.01] * 4, "1 tap would be left"),
        (np.cumsum(np.random.default_rng(0).uniform(0.2, 1.4, 40)).tolist(), "no single tempo"),
    ],
    ids=["none", "few", "one place", "anyhow"],
)
def test_taps_that_tell_nothing_are_refused(taps: Sequence[float], told: str) -> None:
    with pytest.raises(TapsError, match=told):
        steady_taps(sorted(taps))


def test_music_that_breathes_is_listed_as_tapped() -> None:
    moments = np.arange(60)
    times = 0.7 + 0.55 * moments + 0.4 * np.sin(moments / 6.0)
    found = listed_taps(times.tolist())
    assert found.beats == pytest.approx(times, abs=1e-4)
    assert (found.doubles, found.missed) == ((), 0)


def test_in_a_list_missed_beats_are_filled_in_and_doubles_left_out() -> None:
    moments = np.arange(60)
    times = 0.7 + 0.55 * moments + 0.3 * np.sin(moments / 9.0)
    taps = sorted([*np.delete(times, [10, 25, 26]).tolist(), float(times[40]) + 0.05])
    found = listed_taps(taps)
    assert len(found.beats) == 60
    assert (len(found.doubles), found.missed) == (1, 3)
    assert found.beats == pytest.approx(times, abs=0.02)
    assert "1 tap right after another. 3 beats had no tap." in " ".join(found.sentences)


@pytest.mark.parametrize("make", [steady_taps, listed_taps])
def test_all_is_told_in_plain_sentences(make: object) -> None:
    assert callable(make)
    found = make(tapped(beats(120, 30)))
    assert isinstance(found, SteadyTaps | ListedTaps)
    assert found.sentences
    assert all(sentence.endswith(".") for sentence in found.sentences)
