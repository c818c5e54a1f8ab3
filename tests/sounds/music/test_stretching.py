"""Music slower and faster: every beat where it belongs, and every tone at its own pitch."""

import sys
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
import pytest
from grooves import RATE as GROOVES_RATE
from grooves import between, played, rock, steady
from music_files import Samples, struck

from throwcount.sounds.errors import MusicError
from throwcount.sounds.music.stretching import (
    EDGE_SECONDS,
    OVERLAP_SECONDS,
    SEGMENT_SECONDS,
    stretched,
)

RATE = 16_000
PROMISED = 0.001
"""Seconds between a beat of the music and where it belongs, at most."""

FAR = 0.0015
"""The same at half the tempo, where less is promised."""

CENTS = 30


def of(sound: Samples, share: float, rate: int = RATE, block: int = 10_000) -> Samples:
    """Return one channel of sound stretched."""
    both = np.repeat(sound[:, np.newaxis], 2, axis=1)
    blocks = (both[first : first + block] for first in range(0, len(both), block))
    return np.concatenate(list(stretched(blocks, rate, share)))[:, 0]


def rises(sound: Samples, times: npt.NDArray[np.float64], rate: int) -> Iterator[float]:
    """Yield by how many seconds late the level within a millisecond comes to half its peak."""
    window = np.hanning(round(0.001 * rate) | 1)
    level = np.convolve(sound.astype(np.float64) ** 2, window, "same")
    reach = round(0.04 * rate)
    for time in times:
        first = round(time * rate) - reach
        around = level[first : first + 2 * reach]
        yield (first + int(np.argmax(around > around.max() / 2))) / rate - time


@pytest.mark.parametrize(("share", "near"), [(0.5, FAR), (0.7, PROMISED), (1.3, PROMISED)])
def test_strokes_come_when_they_should(share: float, near: float) -> None:
    seconds = 2.2 * SEGMENT_SECONDS
    times = np.arange(0.3, seconds - 1, 0.417)
    sound = struck(times, seconds, RATE, hertz=3000.0)
    late = np.array(list(rises(of(sound, share), times / share, RATE)))
    late -= np.mean(list(rises(sound, times, RATE)))  # how long a stroke takes to rise
    assert np.abs(late).max() < near


@pytest.mark.parametrize("share", [0.7, 1.2])
def test_drums_stay_in_time_with_all_else_that_plays(share: float) -> None:
    """Eighths on the hat, over kick, snare, bass and chords."""
    beats = steady(131.0, 0.4, 8.0)
    hats = np.sort(np.concatenate((beats, between(beats, 0.5))))
    band = played(rock(beats), 8.0, seed=9)
    drums = np.diff(band, n=2, prepend=[0, 0])  # leaves hat and snare
    slower = np.diff(of(band, share, GROOVES_RATE), n=2, prepend=[0, 0])
    before = np.array(list(rises(drums, hats, GROOVES_RATE)))
    after = np.array(list(rises(slower, hats / share, GROOVES_RATE)))
    late = np.abs(after - before)
    assert np.median(late) < PROMISED
    assert np.quantile(late, 0.9) < 2 * PROMISED


def strongest(sound: Samples, near: float) -> float:
    """Return the strongest frequency within a semitone and a half, in Hz."""
    middle = sound[len(sound) // 4 : -len(sound) // 4]
    size = 1 << 19
    power = np.abs(np.fft.rfft(middle * np.hanning(len(middle)), size))
    hertz = np.fft.rfftfreq(size, 1 / RATE)
    inside = np.flatnonzero(np.abs(12 * np.log2(np.maximum(hertz, 1) / near)) < 1.5)
    return float(hertz[inside[np.argmax(power[inside])]])


@pytest.mark.parametrize("share", [0.5, 0.7, 0.9, 1.1])
@pytest.mark.parametrize("root", [110.0, 440.0])
def test_a_trembling_chord_keeps_its_pitch(share: float, root: float) -> None:
    moments = np.arange(4 * RATE) / RATE
    chord = [root, root * 1.25, root * 1.5]
    tremble = 0.25 * root / 220 * np.sin(2 * np.pi * 5.5 * moments)
    sound = 0.2 * sum(np.sin(2 * np.pi * hertz * moments + tremble) for hertz in chord)
    heard = of(sound.astype(np.float32), share)
    for hertz in chord:
        assert abs(1200 * np.log2(strongest(heard, hertz) / hertz)) < CENTS


@pytest.mark.parametrize("share", [0.7, 0.93])
def test_no_seam_is_heard_in_a_tone_that_goes_on(share: float) -> None:
    seconds = np.arange(round(1.5 * SEGMENT_SECONDS * RATE)) / RATE
    sound = (0.25 * np.sin(2 * np.pi * 440.0 * seconds)).astype(np.float32)
    heard = of(sound, share)[RATE:-RATE]
    level = np.sqrt((heard[: len(heard) // 600 * 600].reshape(-1, 600) ** 2).mean(axis=1))
    assert 20 * np.log10(level.min() / np.median(level)) > -1.0
    assert np.abs(np.diff(heard)).max() < 1.1 * 0.25 * 2 * np.pi * 440.0 / RATE


@pytest.mark.parametrize("share", [0.5, 0.73, 1.5])
@pytest.mark.parametrize(
    "seconds",
    [0.001, 1.0, SEGMENT_SECONDS, SEGMENT_SECONDS + 2 * OVERLAP_SECONDS + EDGE_SECONDS],
    ids="{:g} s".format,
)
def test_it_is_as_long_as_it_should_be(share: float, seconds: float) -> None:
    sound = np.zeros(round(seconds * 8_000), dtype=np.float32)
    assert abs(len(of(sound, share, 8_000)) / 8_000 - seconds / share) < PROMISED


def test_it_does_not_matter_how_it_comes() -> None:
    sound = struck(np.arange(0.3, 29.0, 0.7), 30.0, 8_000)
    assert np.array_equal(of(sound, 0.7, 8_000), of(sound, 0.7, 8_000, block=333))
    assert not list(stretched([], 8_000, 0.7))


def test_what_is_not_installed_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "python_stretch.Signalsmith", None)
    with pytest.raises(MusicError, match=r"python-stretch, which is not installed: `pip install"):
        stretched([], RATE, 0.7)
