from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pytest
from scipy.signal import ShortTimeFFT

from sounds.listening.onsets.bands import EDGES, BandPowers
from sounds.listening.rate import RATE

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
