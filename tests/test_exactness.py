"""Every click of an hour stands within half a sample of its closed form, in every curve.

The expected times are worked out here from the textbook forms of the curves, apart from the
engine's: t(n) = (60/k) ln(1 + k n / b0) where the tempo rises by k a beat, (sqrt(b0^2 + 120 a n)
- b0) / a where it rises by a a second, (60/b0)(1 - r^-n) / ln r for a constant ratio r a beat.
"""

from fractions import Fraction
from itertools import accumulate
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile

from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import TempoMap, ramp, steady, steps
from throwcount.sounds.files.audio_files import write_audio
from throwcount.sounds.mixing.score import Balance, mix
from throwcount.sounds.samples import frame_at

Floats = npt.NDArray[np.float64]

READY = 1.0
HOUR = 3600
HALF_A_SAMPLE = 0.5 + 1e-6
SILENCE = 48
"""Frames of zeros, at least, before a sound that counts as new: 1 ms."""


def steady_times(count: int) -> Floats:
    return 60 * np.arange(count) / 173


def linear_beats_times(count: int) -> Floats:
    slope = (200 - 90) / count
    return 60 / slope * np.log1p(slope * np.arange(count) / 90)


def linear_time_times(count: int) -> Floats:
    # From 90 to 200 over `count` beats: b^2 rises by 120 a n.
    acceleration = (200**2 - 90**2) / (120 * count)
    return (np.sqrt(90**2 + 120 * acceleration * np.arange(count)) - 90) / acceleration


def ratio_times(count: int) -> Floats:
    log_ratio = np.log(200 / 90) / count
    return 60 / 90 * (1 - np.exp(-log_ratio * np.arange(count))) / log_ratio


def step_times(count: int) -> Floats:
    tempos = [min(90 + beat // 300 * 7, 200) for beat in range(count - 1)]
    return exact_sums(Fraction(60, tempo) for tempo in tempos)


def joined_times(count: int) -> Floats:
    """1,000 beats at 120, a ramp down to 61 over 3,000 with a constant ratio, then 61 held."""
    log_ratio = np.log(61 / 120) / 3000
    ramped = 500 + 60 / 120 * (1 - np.exp(-log_ratio * np.arange(3001))) / log_ratio
    held = ramped[-1] + 60 * np.arange(1, count - 4000) / 61
    return np.concatenate([60 * np.arange(1000) / 120, ramped, held])


def exact_sums(lengths: object) -> Floats:
    return np.array([float(time) for time in accumulate(lengths, initial=Fraction(0))])


CURVES = {
    "steady": (steady(173), 10_380, steady_times),
    "linear-beats": (ramp(90, 200, 8_300, "linear-beats"), 8_300, linear_beats_times),
    "linear-time": (ramp(90, 200, 8_900, "linear-time"), 8_900, linear_time_times),
    "ratio": (ramp(90, 200, 8_300, "ratio"), 8_300, ratio_times),
    "steps": (steps(90, 200, 7, every=300), 9_700, step_times),
    "joined": (
        steady(120, 1000) + ramp(120, 61, 3000, "ratio") + steady(61),
        5_000,
        joined_times,
    ),
}


@pytest.mark.parametrize(
    ("curve", "rate", "ending"),
    [
        *((curve, 44_100, "wav") for curve in CURVES),
        ("ratio", 48_000, "flac"),
        ("joined", 48_000, "flac"),
    ],
)
def test_every_click_of_an_hour(curve: str, rate: int, ending: str, tmp_path: Path) -> None:
    tempo, beats, closed_form = CURVES[curve]
    path = tmp_path / f"hour.{ending}"
    render(tempo, beats, rate, path)
    onsets = onset_frames(path)
    expected = (READY + closed_form(beats)) * rate
    assert expected[-1] > 0.98 * HOUR * rate
    assert len(onsets) == beats
    assert np.abs(onsets - expected).max() <= HALF_A_SAMPLE


def render(tempo: TempoMap, beats: int, rate: int, path: Path) -> None:
    """Write clicks alone; held objects need no run-out, so that every click is a throw's."""
    run = Run((Part(read("2"), beats),), tempo, ready=READY, count_in=0, say="nothing")
    timeline = schedule(run)
    source = mix(timeline, None, rate, Balance(tune=False))
    write_audio(path, source, rate, frame_at(timeline.seconds or 0, rate))


def onset_frames(path: Path) -> npt.NDArray[np.int64]:
    """Return the frames where sound starts after silence."""
    found, start, silent = [], 0, SILENCE
    for block in soundfile.blocks(str(path), blocksize=1 << 20, dtype="int16"):
        sounding = np.flatnonzero(block.any(axis=1))
        if len(sounding):
            gaps = np.diff(sounding, prepend=-1 - silent)
            found.append(start + sounding[gaps > SILENCE])
            silent = len(block) - 1 - int(sounding[-1])
        else:
            silent += len(block)
        start += len(block)
    return np.concatenate(found)
