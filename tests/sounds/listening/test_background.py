from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pytest
from scipy.signal import ShortTimeFFT

from throwcount.sounds.listening.background import (
    EDGES,
    EVIDENCE_FUTURE,
    EVIDENCE_PAST,
    BandPowers,
    RunningQuantile,
    decibels,
    evidence_of,
)
from throwcount.sounds.samples import RATE

LEFT_WEIGHT = 0.8
"""How far a thud that does not die away is doubted: rooms answer, so not wholly."""


FLOOR = np.ones(1)
START = EVIDENCE_PAST + 100
"""The moment at which something begins, below."""


def evidence_at_most(powers: npt.NDArray[np.float64]) -> tuple[int, float]:
    """Return which moment has the most evidence, counted from where something begins."""
    found = evidence_of(powers[:, np.newaxis], FLOOR)[:, 0]
    place = int(np.argmax(found))
    return place + EVIDENCE_PAST - START, float(found[place])


def moments(level: float = 1.0) -> npt.NDArray[np.float64]:
    return np.full(EVIDENCE_PAST + 300 + EVIDENCE_FUTURE, level)


def test_what_stays_as_it_is_has_none() -> None:
    assert evidence_at_most(moments()) == (-100, 0)


def test_there_is_one_row_for_each_moment_with_enough_around_it() -> None:
    assert evidence_of(moments()[:, np.newaxis], FLOOR).shape == (300, 1)


def test_what_rises_and_is_gone_has_its_rise_in_decibels() -> None:
    powers = moments()
    powers[START : START + 20] = 100
    assert evidence_at_most(powers) == (1, pytest.approx(20))


def test_what_rises_and_stays_has_little() -> None:
    powers = moments()
    powers[START:] = 100
    _, most = evidence_at_most(powers)
    assert most == pytest.approx(20 * (1 - LEFT_WEIGHT))


def test_another_one_close_behind_does_not_hide_the_first() -> None:
    powers = moments()
    powers[START : START + 10] = 100
    powers[START + 60 : START + 70] = 10_000
    found = evidence_of(powers[:, np.newaxis], FLOOR)[:, 0]
    assert found[START - EVIDENCE_PAST : START - EVIDENCE_PAST + 5].max() == pytest.approx(20)


def test_what_rises_slowly_has_little() -> None:
    powers = moments()
    powers[START : START + 100] = np.geomspace(1, 100, 100)
    powers[START + 100 : START + 200] = np.geomspace(100, 1, 100)
    assert evidence_at_most(powers)[1] < 5


def test_what_dies_away_hides_what_is_weaker() -> None:
    powers = moments()
    dying = 10_000 * 10 ** (-np.arange(200) / 30)
    powers[START : START + 200] += dying
    powers[START + 50] += dying[50] / 2
    found = evidence_of(powers[:, np.newaxis], FLOOR)[:, 0]
    later = found[START - EVIDENCE_PAST + 20 :]
    assert found.max() > 20
    assert later.max() < 1


def test_pulses_of_a_voice_are_no_thuds_after_the_first() -> None:
    powers = moments()
    powers[START - 50 :: 10] = 100
    found = evidence_of(powers[:, np.newaxis], FLOOR)[:, 0]
    assert found[START - EVIDENCE_PAST :].max() < 6


@pytest.mark.parametrize("floor", [1.0, 10.0])
def test_what_was_quieter_than_the_background_counts_as_the_background(floor: float) -> None:
    powers = moments(1e-6)
    powers[START : START + 20] = 1000
    most = evidence_of(powers[:, np.newaxis], np.array([floor])).max()
    assert most == pytest.approx(30 - 10 * np.log10(floor))


def test_decibels_of_nothing_are_finite() -> None:
    assert decibels(np.array([0.0, 1.0, 100.0])).tolist() == [-300, 0, 20]


CLOSE = 1e-3
"""Of float32 sums, as a share."""


def noise(frames: int, seed: int = 0) -> npt.NDArray[np.float32]:
    return np.random.default_rng(seed).normal(0, 0.1, frames).astype(np.float32)


def powers_in_blocks(
    samples: npt.NDArray[np.float32], sizes: list[int], rate: int = RATE
) -> npt.NDArray[np.float64]:
    measure = BandPowers(rate)
    edges = [0, *np.cumsum(sizes).tolist(), len(samples)]
    blocks = [samples[start:end] for start, end in pairwise(edges)]
    return np.concatenate([measure.push(block) for block in blocks])


def test_the_powers_are_those_of_an_independent_short_time_transform() -> None:
    samples = noise(2400)
    window = np.hanning(130)[1:-1]
    transform = ShortTimeFFT(window, hop=24, fs=RATE, fft_mode="onesided")
    spectra = np.abs(transform.stft(samples.astype(np.float64), p0=3, p1=97)) ** 2
    bins = np.rint(np.array(EDGES) * 128 / RATE + 0.5).astype(int)
    expected = [spectra[low:high].sum(axis=0) for low, high in pairwise(bins)]
    scale = 2 / (128 * np.sum(window**2))
    measured = powers_in_blocks(samples, [])
    assert measured[3:97] == pytest.approx(np.array(expected).T * scale, rel=CLOSE)


def test_white_noise_has_power_by_the_width_of_each_band() -> None:
    power = 0.01
    measured = powers_in_blocks(noise(10 * RATE), []).mean(axis=0)
    widths = np.diff(np.rint(np.array(EDGES) * 128 / RATE + 0.5))
    assert measured == pytest.approx(power * widths / 64, rel=0.1)


@pytest.mark.parametrize(("hertz", "band"), [(190, 0), (375, 1), (1200, 4), (3000, 7), (9000, 10)])
def test_a_tone_is_in_its_band_with_its_mean_square(hertz: float, band: int) -> None:
    tone = 0.5 * np.sin(2 * np.pi * hertz * np.arange(RATE) / RATE).astype(np.float32)
    powers = powers_in_blocks(tone, [])[20:-20].mean(axis=0)
    assert int(np.argmax(powers)) == band
    assert powers.sum() == pytest.approx(0.125, rel=0.2)


def test_the_beginning_of_a_take_is_no_jump() -> None:
    samples = np.full(2400, 0.5, dtype=np.float32)
    powers = powers_in_blocks(samples, [])
    assert powers == pytest.approx(np.tile(powers[50], (len(powers), 1)), rel=CLOSE, abs=1e-12)


@pytest.mark.parametrize("sizes", [[1, 1, 1], [23, 24, 25, 1000], [0, 500, 0], [2399]])
def test_the_powers_do_not_depend_on_where_blocks_end(sizes: list[int]) -> None:
    samples = noise(2400)
    assert np.array_equal(powers_in_blocks(samples, sizes), powers_in_blocks(samples, []))


@pytest.mark.parametrize("place", [0, 5, 96])
def test_a_moment_is_centred_on_its_frame(place: int) -> None:
    samples = np.zeros(2400, dtype=np.float32)
    samples[place * 24] = 1
    powers = powers_in_blocks(samples, []).sum(axis=1)
    assert int(np.argmax(powers)) == place


@pytest.mark.parametrize(
    ("rate", "period", "bands"), [(8_000, 0.001, 9), (16_000, 0.001, 11), (44_100, 44 / 44_100, 11)]
)
def test_other_rates_have_the_bands_they_can_hold(rate: int, period: float, bands: int) -> None:
    measure = BandPowers(rate)
    assert measure.period == period
    assert measure.bands == bands


def test_nothing_known_is_what_is_expected() -> None:
    assert RunningQuantile(3, [4.0, 5.0]).quantile(0.5).tolist() == [4, 5]


@pytest.mark.parametrize("sizes", [(1, 1, 1, 1, 1), (5,), (2, 3), (0, 4, 1)])
def test_the_last_rows_are_kept_whatever_they_came_in(sizes: tuple[int, ...]) -> None:
    history = RunningQuantile(3, [0.0])
    rows = np.array([[9.0], [9.0], [1.0], [2.0], [3.0]])
    start = 0
    for size in sizes:
        history.add(rows[start : start + size])
        start += size
    assert [history.quantile(share)[0] for share in (0, 0.5, 1)] == [1, 2, 3]


@pytest.mark.parametrize("share", [0.0, 0.1, 0.3, 0.5, 0.8, 0.9, 1.0])
def test_quantiles_are_those_of_numpy(share: float) -> None:
    rows = np.random.default_rng(1).normal(size=(101, 4))
    history = RunningQuantile(200, np.zeros(4))
    history.add(rows)
    assert np.array_equal(history.quantile(share), np.quantile(rows, share, axis=0))


def test_what_is_expected_counts_until_enough_is_known() -> None:
    history = RunningQuantile(4, [10.0], trust=2)
    history.add(np.array([[1.0]]))
    assert history.quantile(0.5).tolist() == [10]
    history.add(np.array([[1.0], [1.0]]))
    assert history.quantile(0.5).tolist() == [1]
    history.add(np.array([[1.0]]))
    assert history.quantile(1.0).tolist() == [1]
