"""Estimated beats against the beats that the music was made of: right, or unsure."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from beat_pieces import off_beats, with_a_rest
from grooves import (
    RATE,
    bass_and_chords,
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
from throwcount.sounds.music.estimate import (
    CONFIDENT,
    LIKELY,
    LONGEST_SECONDS,
    Estimate,
    alternatives_of,
    estimate,
    settled_by_two,
)
from throwcount.sounds.voices.open_voice import open_voice

SURE = CONFIDENT
SECONDS = 30.0
RIGHT = 0.020
"""Seconds within which every beat is to be, or the estimate is to be unsure."""

Times = npt.NDArray[np.float64]


def estimated(folder: Path, sound: npt.NDArray[np.float32], rate: int = RATE) -> Estimate:
    return estimate(decoded(folder / "music", sound.astype(np.float32), rate=rate))


def furthest(found: Estimate, beats: Times) -> float:
    """Return how far the worst likely beat is off, where beats are known."""
    times = np.array(found.beats)
    known = times[(times > beats[0] - 0.3) & (times < beats[-1] + 0.3)]
    known = known[np.isin(known, times[np.array(found.chances) >= LIKELY])]
    return float(np.abs(known[:, np.newaxis] - beats).min(axis=1).max())


@pytest.mark.parametrize(
    ("groove", "tempo", "offset"),
    [
        (rock, 93.3, 0.77),
        (rock, 120.0, 1.1),
        (waltz, 141.5, 0.6),
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


@pytest.mark.parametrize(
    ("groove", "tempo", "offset"),
    [
        (clicks_only, 60.0, 0.2),
        (clicks_only, 177.7, 1.31),
        (rock, 62.0, 0.3),
        (rock, 174.0, 0.41),
        (shuffle, 104.2, 0.9),
    ],
)
def test_where_a_person_may_count_otherwise_it_is_unsure_and_two_taps_settle_it(
    tmp_path: Path, groove: object, tempo: float, offset: float
) -> None:
    assert callable(groove)
    beats = steady(tempo, offset, SECONDS)
    found = estimated(tmp_path, played(groove(beats), SECONDS))
    assert found.confidence < SURE
    meant = settled_by_two(found, beats[10] - 0.04, beats[11] - 0.06)
    assert meant is not None
    assert meant.tempo == pytest.approx(tempo, rel=2e-4)
    assert np.array(meant.beats) == pytest.approx(
        beats[0] + np.rint((np.array(meant.beats) - beats[0]) * tempo / 60) * 60 / tempo,
        abs=RIGHT / 2,
    )
    assert meant.confidence > found.confidence


@pytest.mark.parametrize(
    ("first", "second", "tempo", "place"),
    [
        (5.5, 6.0, 120, 0.0),
        (5.5, 6.5, 60, 0.5),
        (6.0, 7.0, 60, 0.0),
        (5.5, 5.75, 240, 0.0),
        (5.75, 6.25, 120, 0.25),
        (5.5, 6.17, None, None),
        (5.5, 7.5, None, None),
        (70.0, 70.5, None, None),
    ],
)
def test_two_taps_tell_half_double_and_between(
    first: float, second: float, tempo: float | None, place: float | None
) -> None:
    beats = np.arange(0.5, 60.0, 0.5)
    found = Estimate(tuple(beats), 120.0, True, 0.3, "Unsure", (0.9,) * len(beats))
    found = replace(found, alternatives=alternatives_of(beats))
    meant = settled_by_two(found, first, second)
    if tempo is None:
        assert meant is None
        return
    assert meant is not None
    assert meant.tempo == pytest.approx(tempo)
    assert meant.beats[4] % (60 / tempo) == pytest.approx(place)
    assert meant.confidence == pytest.approx(0.9)
    assert len(meant.chances) == len(meant.beats)
    assert meant.alternatives[0].name == "half"


def test_a_rest_is_named_and_its_beats_are_counted_on(tmp_path: Path) -> None:
    beats = steady(118, 0.5, SECONDS)
    found = estimated(tmp_path, played(with_a_rest(beats, 10.0, 16.0), SECONDS))
    assert found.confidence >= SURE
    assert found.beats == pytest.approx(beats[: len(found.beats)], abs=RIGHT)
    ((first, last),) = found.weak
    assert first == pytest.approx(10.0, abs=1.1)
    assert last == pytest.approx(16.0, abs=1.1)
    inside = (beats[: len(found.beats)] > 11.5) & (beats[: len(found.beats)] < 14.5)
    assert max(np.array(found.chances)[inside]) < LIKELY
    assert f"{first:.1f} to {last:.1f} s" in found.sentence


def test_stress_between_the_beats_is_never_sure(tmp_path: Path) -> None:
    beats = steady(100, 0.9, SECONDS)
    found = estimated(tmp_path, played(off_beats(beats), SECONDS))
    assert found.confidence < SURE
    meant = settled_by_two(found, beats[8], beats[9])
    assert meant is not None
    assert furthest(meant, beats) < RIGHT


@pytest.mark.parametrize("rate", [22_050, 48_000, 96_000])
def test_it_does_not_depend_on_the_rate(tmp_path: Path, rate: int) -> None:
    beats = steady(117.3, 0.6, SECONDS)
    sound = played(rock(beats), SECONDS)
    moments = np.arange(round(SECONDS * rate)) / rate
    at_rate = np.interp(moments, np.arange(len(sound)) / RATE, sound)
    found = estimated(tmp_path, at_rate.astype(np.float32), rate)
    assert found.confidence >= SURE
    assert furthest(found, beats) < RIGHT / 2


def test_all_of_five_minutes_is_right(tmp_path: Path) -> None:
    seconds = 300.0
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
    assert "mostly between" in found.sentence


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


@pytest.mark.parametrize("seconds", [0.1, 1.0, 4.0])
def test_short_music_is_no_failure(tmp_path: Path, seconds: float) -> None:
    found = estimated(tmp_path, played(rock(steady(120, 0.05, seconds)), seconds))
    assert found.confidence < SURE


def test_fewer_beats_than_are_averaged_are_none(tmp_path: Path) -> None:
    found = estimated(tmp_path, played(clicks_only(np.arange(0.1, 5.0, 1.05)), 5.02))
    assert (found.beats, found.confidence) == ((), 0.0)


def test_music_that_is_very_long_is_refused(tmp_path: Path) -> None:
    frames = round((LONGEST_SECONDS + 60) * RATE)
    with pytest.raises(MusicError, match="lasts 21 minutes; beats are estimated for at most 20"):
        estimate(Music(tmp_path / "none", RATE, frames, 0.5, -20.0))
