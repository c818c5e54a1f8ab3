"""Taps as people make them, early and uneven, on music whose beats are known."""

from pathlib import Path

import numpy as np
import pytest
from grooves import RATE, breathing, played, rock, steady
from music_files import decoded

from throwcount.caller.plans import tapping as module
from throwcount.caller.plans.tapping import tapped_beats
from throwcount.caller.plans.taps import TapsError
from throwcount.sounds.mixing.music_bed import Music

SECONDS = 30.0
NEAR = 0.010
EARLY = 0.05


def tapped(beats: np.ndarray) -> list[float]:
    """Return taps 50 ms early, as is usual (Repp 2005, figures from memory), some 15 ms uneven."""
    return sorted(beats - EARLY + np.random.default_rng(3).normal(0, 0.015, len(beats)))


def music(folder: Path, sound: np.ndarray) -> Music:
    return decoded(folder / "music", sound.astype(np.float32), rate=RATE)


def test_one_tempo_is_put_on_the_onsets(tmp_path: Path) -> None:
    beats = steady(118.4, 0.8, SECONDS)
    found = tapped_beats(tapped(beats[2:40]), music(tmp_path, played(rock(beats), SECONDS)))
    assert found.tempo == pytest.approx(118.4, abs=0.05)
    assert found.beats[0] == pytest.approx(beats[2], abs=NEAR)
    assert "ms later than tapped" in found.sentences[-1]


def test_music_that_breathes_is_listed_on_its_onsets(tmp_path: Path) -> None:
    beats = breathing(105, 0.12, 0.8, SECONDS)
    found = tapped_beats(tapped(beats), music(tmp_path, played(rock(beats), SECONDS)))
    assert found.tempo is None
    assert found.beats == pytest.approx(beats, abs=NEAR)
    assert "every beat is listed" in found.sentences[0]


def test_taps_too_uneven_for_a_tempo_are_listed_as_they_are(tmp_path: Path) -> None:
    intervals = np.random.default_rng(4).uniform(0.4, 0.9, 40)
    taps = 0.5 + np.cumsum(intervals)
    found = tapped_beats(list(taps), music(tmp_path, np.zeros(RATE * 5)))
    assert found.tempo is None
    assert found.beats == pytest.approx(taps, abs=1e-4)
    assert "20 to 80 ms early" in found.sentences[-1]


@pytest.mark.parametrize("reason", ["silence", "too long to be looked through"])
def test_without_onsets_taps_stay_and_are_said_to_be_early(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, reason: str
) -> None:
    beats = steady(120, 0.5, SECONDS)
    sound = np.zeros(RATE * 30) if reason == "silence" else played(rock(beats), SECONDS)
    if reason != "silence":
        monkeypatch.setattr(module, "LONGEST_SECONDS", SECONDS - 1)
    found = tapped_beats(tapped(beats), music(tmp_path, sound))
    assert found.tempo == pytest.approx(120, abs=0.3)
    assert found.beats == pytest.approx(beats - EARLY, abs=NEAR)
    assert "20 to 80 ms early" in found.sentences[-1]


def test_no_beat_is_before_the_music(tmp_path: Path) -> None:
    taps = [number * 0.5 - 0.0001 * (number % 2) for number in range(20)]
    found = tapped_beats(taps, music(tmp_path, np.zeros(RATE * 12)))
    assert found.beats[0] >= 0.0


def test_few_taps_tell_nothing(tmp_path: Path) -> None:
    with pytest.raises(TapsError, match="30 are better"):
        tapped_beats([0.5, 1.0, 1.5], music(tmp_path, np.zeros(RATE)))
