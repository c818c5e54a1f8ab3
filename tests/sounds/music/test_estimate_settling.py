"""Taps, early and uneven as people's are, on music whose beats are known."""

from pathlib import Path

import numpy as np
import pytest
from grooves import RATE, breathing, clicks_only, played, rock, steady
from music_files import decoded

from throwcount.sounds.music.estimate import Settled, settled_listed, settled_steady
from throwcount.sounds.music.pulse import Onsets, onsets_of

SECONDS = 30.0
RIGHT = 0.010


def onsets_in(folder: Path, sound: np.ndarray) -> Onsets:
    return onsets_of(decoded(folder / "music", sound.astype(np.float32), rate=RATE))


@pytest.mark.parametrize("early", [-0.03, 0.0, 0.04, 0.08])
@pytest.mark.parametrize("tempo", [70.0, 118.4, 165.0])
def test_one_tempo_settles_on_the_onsets(tmp_path: Path, tempo: float, early: float) -> None:
    beats = steady(tempo, 0.8, SECONDS)
    onsets = onsets_in(tmp_path, played(rock(beats), SECONDS))
    period = 60.0 / tempo * 1.002
    found = settled_steady(float(beats[4]) - early, period, 24, onsets)
    assert found is not None
    assert found.beats == pytest.approx(beats[4:28], abs=RIGHT)
    assert found.later == pytest.approx(early, abs=0.04)


def test_the_tapped_level_is_kept(tmp_path: Path) -> None:
    beats = steady(140, 0.8, SECONDS)
    onsets = onsets_in(tmp_path, played(rock(beats), SECONDS))
    found = settled_steady(float(beats[2]) - 0.03, 2 * 60 / 140, 20, onsets)
    assert found is not None
    assert found.beats == pytest.approx(beats[2:42:2], abs=RIGHT)


@pytest.mark.parametrize("early", [-0.03, 0.02, 0.07])
@pytest.mark.parametrize("depth", [0.0, 0.05, 0.12])
def test_beats_tapped_one_by_one_settle_each_on_its_own(
    tmp_path: Path, depth: float, early: float
) -> None:
    beats = breathing(105, depth, 0.8, SECONDS)
    onsets = onsets_in(tmp_path, played(rock(beats), SECONDS))
    taps = beats - early + np.random.default_rng(3).normal(0, 0.015, len(beats))
    found = settled_listed(taps, onsets)
    assert found is not None
    assert found.beats == pytest.approx(beats, abs=RIGHT)
    assert found.later == pytest.approx(early, abs=0.01)


def noise(_beats: np.ndarray) -> np.ndarray:
    return np.random.default_rng(2).normal(0, 0.1, round(SECONDS * RATE))


def elsewhere(beats: np.ndarray) -> np.ndarray:
    return played(clicks_only(beats[:-1] + 0.4 * np.diff(beats)), SECONDS)


@pytest.mark.parametrize("sound", [noise, elsewhere])
def test_where_no_onsets_are_near_taps_stay_as_they_are(tmp_path: Path, sound: object) -> None:
    assert callable(sound)
    beats = steady(60, 0.8, SECONDS)
    onsets = onsets_in(tmp_path, sound(beats))
    taps = beats + np.random.default_rng(3).normal(0, 0.015, len(beats))
    found: list[Settled | None] = [
        settled_steady(float(beats[0]), 1.0, 20, onsets),
        settled_listed(taps, onsets),
    ]
    assert found == [None, None]
