"""Integrated loudness and true peak against the standards' own signals and another meter."""

import numpy as np
import pyloudnorm
import pytest
import scipy.signal
from music_files import RATE, hum, tone
from ungated import ungated

from sounds.music.measuring import Meter

METER_TOLERANCE = 0.1
"""dB; what meters may differ by (EBU Tech 3341)."""


def measured(
    samples: np.ndarray, rate: int = RATE, pieces: tuple[int, ...] = (16_384,)
) -> tuple[float, float]:
    meter = Meter(rate)
    first = turn = 0
    while first < len(samples):
        count = pieces[turn % len(pieces)]
        meter.take(samples[first : first + count])
        first, turn = first + count, turn + 1
    return meter.finish()


@pytest.mark.parametrize(
    "levels",
    [
        # EBU Tech 3341 (levels and lengths from memory): each reads -23.0 +- 0.1 LUFS.
        [(-23, 20)],
        [(-36, 10), (-23, 60), (-36, 10)],
        [(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)],
        [(-26, 20), (-20, 20.1), (-26, 20)],
    ],
    ids=["steady", "relative gate", "both gates", "no gate"],
)
def test_the_signals_of_the_standard_read_minus_23(levels: list[tuple[float, float]]) -> None:
    samples = np.concatenate([tone(1000, level, seconds) for level, seconds in levels])
    assert measured(samples)[0] == pytest.approx(-23.0, abs=METER_TOLERANCE)


@pytest.mark.parametrize("rate", [11_025, 44_100, 48_000, 96_000])
def test_music_that_swells_reads_as_on_another_meter(rate: int) -> None:
    seconds = 12.3
    noise = hum(seconds, rate)
    swelling = np.abs(np.sin(np.linspace(0, 7, len(noise)))) ** 6
    music = (noise * swelling[:, np.newaxis]).astype(np.float32)
    meter = pyloudnorm.Meter(rate, filter_class="DeMan")
    expected = meter.integrated_loudness(music.astype(np.float64))
    assert expected > ungated(music, rate) + 1.0  # The gates make a difference.
    assert measured(music, rate)[0] == pytest.approx(expected, abs=METER_TOLERANCE)


def test_it_does_not_matter_how_it_comes() -> None:
    music = hum(9.0)
    at_once = measured(music, pieces=(len(music),))
    for pieces in ((1_000,), (16_384, 3), (300_000, 1, 77)):
        assert measured(music, pieces=pieces) == pytest.approx(at_once, rel=1e-9)


@pytest.mark.parametrize("seconds", [0.01, 0.25, 0.399])
def test_what_is_shorter_than_a_block_is_measured_as_one(seconds: float) -> None:
    music = hum(seconds)
    assert measured(music)[0] == pytest.approx(ungated(music, RATE), abs=1e-6)


@pytest.mark.parametrize("level", [-75, -200])
def test_what_is_below_the_absolute_gate_has_no_loudness(level: float) -> None:
    assert measured(tone(1000, level, 3))[0] == -np.inf


def test_a_peak_between_the_samples_is_seen_wherever_pieces_meet() -> None:
    # ITU-R BS.1770, annex 2: a quarter of the rate at 45 degrees peaks 3 dB above its samples.
    frames = np.arange(RATE)
    swing = np.hanning(RATE) * np.sin(np.pi / 2 * frames + np.pi / 4)
    samples = np.repeat(swing[:, np.newaxis], 2, axis=1).astype(np.float32)
    assert measured(samples, pieces=(RATE // 2,))[1] == pytest.approx(1.0, abs=0.01)


def test_true_peak_is_that_of_another_resampler() -> None:
    samples = scipy.signal.lfilter([0.3], [1, -0.7], hum(3), axis=0).astype(np.float32)
    expected = np.abs(scipy.signal.resample_poly(samples.astype(np.float64), 16, 1, axis=0)).max()
    assert 20 * np.log10(measured(samples)[1] / expected) == pytest.approx(0, abs=0.3)
