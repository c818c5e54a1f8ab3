"""Estimated beats against the beats that the music was made of: right, or unsure."""

import sys
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from grooves import (
    RATE,
    bass_and_chords,
    between,
    breathing,
    clicks_only,
    drifting,
    pad,
    played,
    rock,
    seven_eight,
    shuffle,
    steady,
    waltz,
)
from music_files import decoded

from throwcount.sounds.errors import MusicError
from throwcount.sounds.mixing.music_bed import Music
from throwcount.sounds.music.estimate import LONGEST_SECONDS, Estimate, estimate
from throwcount.sounds.voices.open_voice import open_voice

SURE = 0.7
"""Confidence: with this much, every beat may be taken to be within 20 ms."""


SECONDS = 30.0
RIGHT = 0.020
"""Seconds within which every beat is to be, or the estimate is to be unsure."""

Times = npt.NDArray[np.float64]


def estimated(folder: Path, sound: npt.NDArray[np.float32], rate: int = RATE) -> Estimate:
    return estimate(decoded(folder / "music", sound.astype(np.float32), rate=rate))


def furthest(found: Estimate, beats: Times) -> float:
    """Return how far the worst beat is off, where beats are known."""
    times = np.array(found.beats)
    known = times[(times > beats[0] - 0.5) & (times < beats[-1] + 0.5)]
    return float(np.abs(known[:, np.newaxis] - beats).min(axis=1).max())


@pytest.mark.parametrize(
    ("groove", "tempo", "offset"),
    [
        (clicks_only, 60.0, 0.2),
        (clicks_only, 177.7, 1.31),
        (rock, 62.0, 0.3),
        (rock, 93.3, 0.77),
        (rock, 120.0, 1.1),
        (rock, 174.0, 0.41),
        (waltz, 141.5, 0.6),
        (shuffle, 104.2, 0.9),
        (bass_and_chords, 88.0, 0.55),
        (bass_and_chords, 131.0, 0.11),
    ],
)
def test_music_with_one_tempo_is_heard_to_have_it(
    tmp_path: Path, groove: object, tempo: float, offset: float
) -> None:
    assert callable(groove)
    beats = steady(tempo, offset, SECONDS)
    found = estimated(tmp_path, played(groove(beats), SECONDS))
    assert found.confidence >= SURE
    assert found.steady
    assert found.tempo == pytest.approx(tempo, rel=2e-4)
    assert furthest(found, beats) < RIGHT / 2
    assert found.beats[0] == pytest.approx(offset, abs=RIGHT / 2)
    assert abs(len(found.beats) - len(beats)) <= 2
    for other in (found.tempo / 2, found.tempo * 2):
        assert f"{other:.1f}" in found.sentence


@pytest.mark.parametrize("rate", [22_050, 48_000, 96_000])
def test_it_does_not_depend_on_the_rate(tmp_path: Path, rate: int) -> None:
    beats = steady(117.3, 0.6, SECONDS)
    sound = played(rock(beats), SECONDS)
    moments = np.arange(round(SECONDS * rate)) / rate
    at_rate = np.interp(moments, np.arange(len(sound)) / RATE, sound)
    found = estimated(tmp_path, at_rate.astype(np.float32), rate)
    assert found.confidence >= SURE
    assert furthest(found, beats) < RIGHT / 2


def test_all_of_ten_minutes_is_right(tmp_path: Path) -> None:
    seconds = 600.0
    beats = steady(123.456, 0.7, seconds)
    bar = played(rock(beats[:33]), float(beats[32] + 2.0))
    sound = np.zeros(round(seconds * RATE), dtype=np.float32)
    eight_bars = round(float(beats[32] - beats[0]) * RATE)
    for first in beats[:-33:32]:  # The same eight bars again and again, each where it belongs.
        place = round(float(first) * RATE)
        start = round(0.7 * RATE)
        sound[place : place + eight_bars] = bar[start : start + eight_bars]
    found = estimated(tmp_path, sound)
    assert found.confidence >= SURE
    assert found.tempo == pytest.approx(123.456, rel=1e-5)
    assert furthest(found, beats) < RIGHT / 2


@pytest.mark.parametrize(
    ("groove", "beats"),
    [
        (rock, drifting(110, 122, 0.5, SECONDS)),
        (rock, drifting(100, 101, 0.5, SECONDS)),
        (rock, breathing(100, 0.03, 0.5, SECONDS)),
        (rock, breathing(100, 0.08, 0.5, SECONDS)),
        (waltz, breathing(130, 0.02, 0.5, SECONDS)),
    ],
    ids=["faster", "hardly faster", "breathing", "breathing much", "waltz"],
)
def test_music_whose_tempo_moves_is_followed_beat_by_beat(
    tmp_path: Path, groove: object, beats: Times
) -> None:
    assert callable(groove)
    found = estimated(tmp_path, played(groove(beats), SECONDS))
    assert found.confidence >= SURE
    assert not found.steady
    assert furthest(found, beats) < RIGHT
    assert abs(len(found.beats) - len(beats)) <= 3
    assert "moves between" in found.sentence


def unevenly(spread: float) -> Times:
    """Return beats as somebody plays them whose strokes are a little early and late."""
    beats = steady(110.0, 0.6, SECONDS)
    return beats + np.random.default_rng(3).normal(0.0, spread, len(beats))


def jumping() -> Times:
    return np.concatenate((steady(120, 0.5, 15.0), steady(120, 15.22, SECONDS)))


def two_tempos() -> Times:
    return np.concatenate((steady(100, 0.5, 15.0), steady(130, 15.1, SECONDS)))


@pytest.mark.parametrize(
    ("groove", "beats"),
    [
        (rock, drifting(90, 150, 0.5, SECONDS)),
        (rock, breathing(100, 0.15, 0.5, SECONDS)),
        (rock, breathing(90, 0.3, 0.5, SECONDS)),
        (bass_and_chords, breathing(75, 0.25, 0.5, SECONDS)),
        (rock, unevenly(0.003)),
        (rock, unevenly(0.008)),
        (rock, unevenly(0.025)),
        (rock, jumping()),
        (rock, two_tempos()),
        (seven_eight, steady(240, 0.5, SECONDS)),
        (seven_eight, steady(300, 0.5, SECONDS)),
    ],
    ids=[
        *("much faster", "rubato", "wild rubato", "rubato without drums"),
        *("played evenly", "played", "played unevenly", "jump", "two tempos"),
        *("seven eight", "quick seven eight"),
    ],
)
def test_every_beat_is_right_or_the_estimate_is_unsure(
    tmp_path: Path, groove: object, beats: Times
) -> None:
    assert callable(groove)
    found = estimated(tmp_path, played(groove(beats), SECONDS))
    if found.confidence >= SURE:
        assert furthest(found, beats) < RIGHT
    else:
        assert found.sentence.startswith("Unsure")
    assert 0.0 <= found.confidence <= 1.0
    assert list(found.beats) == sorted(set(found.beats))


def noise() -> npt.NDArray[np.float32]:
    return np.random.default_rng(2).normal(0, 0.1, round(SECONDS * RATE)).astype(np.float32)


def silence() -> npt.NDArray[np.float32]:
    return np.zeros(round(SECONDS * RATE), dtype=np.float32)


def chords() -> npt.NDArray[np.float32]:
    return played([(pad, np.arange(0.0, SECONDS, 1.9))], SECONDS)


def speech() -> npt.NDArray[np.float32]:
    random = np.random.default_rng(4)
    voice = open_voice(None, RATE, None)
    words = ["one", "three", "ready", "stop", "seven", "change", "twenty", "rest"]
    pieces = []
    for _ in range(45):
        word = voice.clips(words[random.integers(len(words))])[0].samples[:, 0]
        pieces += [word, np.zeros(round(random.uniform(0.05, 0.5) * RATE), np.float32)]
    return np.concatenate(pieces)[: round(SECONDS * RATE)]


@pytest.mark.parametrize("make", [noise, silence, chords, speech])
def test_where_there_is_no_beat_it_is_unsure(tmp_path: Path, make: object) -> None:
    assert callable(make)
    found = estimated(tmp_path, make())
    assert found.confidence < SURE
    assert found.confidence < 0.3
    assert found.sentence.startswith("Unsure")


def test_beats_may_begin_after_a_while(tmp_path: Path) -> None:
    beats = steady(124, 10.3, SECONDS)
    found = estimated(tmp_path, played([*rock(beats), (pad, np.arange(0, 9, 2.2))], SECONDS))
    assert found.confidence >= SURE
    assert found.beats[0] == pytest.approx(10.3, abs=RIGHT)
    assert furthest(found, beats) < RIGHT / 2


def test_where_what_is_between_the_beats_is_as_strong_both_count(tmp_path: Path) -> None:
    beats = steady(90, 0.5, SECONDS)
    doubled = np.sort(np.concatenate((beats, between(beats, 0.5))))
    found = estimated(tmp_path, played(clicks_only(doubled), SECONDS))
    assert found.confidence >= SURE
    assert found.tempo == pytest.approx(180, rel=1e-3)
    assert "90.0" in found.sentence


@pytest.mark.parametrize("seconds", [0.1, 1.0, 4.0])
def test_short_music_is_no_failure(tmp_path: Path, seconds: float) -> None:
    found = estimated(tmp_path, played(rock(steady(120, 0.05, seconds)), seconds))
    assert found.confidence < SURE


def test_without_the_library_it_is_said_how_to_get_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "librosa", None)
    with pytest.raises(MusicError, match=r"`pip install '\.\[music\]'`"):
        estimated(tmp_path, played(rock(steady(120, 0.5, 5.0)), 5.0))


def test_music_that_is_very_long_is_refused(tmp_path: Path) -> None:
    frames = round((LONGEST_SECONDS + 60) * RATE)
    with pytest.raises(MusicError, match="lasts 21 minutes; beats are estimated for at most 20"):
        estimate(Music(tmp_path / "none", RATE, frames, 0.5, -20.0))
