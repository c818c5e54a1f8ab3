"""A routine at a share of its tempo: its music is stretched, and the count stays with it."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result
from music_files import struck, tone, write
from scipy.signal import butter, sosfiltfilt

from throwcount.caller.main import throwcount
from throwcount.caller.options.request import Request
from throwcount.caller.pieces import routine
from throwcount.caller.pieces.routine import routine_source
from throwcount.engine.timing.timeline import Click
from throwcount.sounds.mixing.clicks import click_clip
from throwcount.sounds.output.commands import Play, ScheduledRun
from throwcount.sounds.output.deck import Deck
from throwcount.sounds.samples import Samples, frame_at

RATE = 48_000
LOCKED = 0.001
"""Seconds; what is promised is no more than this between the count and the music."""

CENTS = 30
BETWEEN = 13_000.0
"""The music's bursts lie above this, all partials of our clicks below."""

HUM = 5_000.0
"""Hertz of a tone that goes on through the music, above all partials of our clicks that matter."""

ROUTINE = """
title = "In time"
ready = 1
[music]
file = "tune.flac"
tempo = 123.7
first-beat = 0.8
throws = "2:1"
[[part]]
pattern = "3"
bar = 2
beats = 36
[[part]]
pattern = "531"
beats = 12
"""
FIRST_THROW = 0.8 + 4 * 60 / 123.7
"""The first beat of bar 2, in seconds of the music."""


@pytest.fixture
def walk(tmp_path: Path) -> Path:
    beats = np.arange(0.8, 16.0, 60 / 123.7)
    tune = struck(beats, 16.0, 44_100, hertz=16_000.0) + 0.1 * tone(HUM, 0, 16.0, 44_100)[:, 0]
    write(tmp_path / "tune.flac", tune, 44_100)
    place = tmp_path / "walk.toml"
    place.write_text(ROUTINE, "utf-8")
    return place


def run(command: str, *arguments: object) -> Result:
    return CliRunner().invoke(throwcount, [command, *map(str, arguments)])


def rises(sound: Samples, times: np.ndarray, length: float) -> np.ndarray:
    """Return when the level within a millisecond comes to half its peak, against each time."""
    level = np.convolve(sound**2, np.hanning(round(0.001 * RATE) | 1), "same")
    reach, after = round(0.005 * RATE), round(length * RATE)
    found = []
    for time in times:
        first = round(time * RATE) - reach
        around = level[first : first + reach + after]
        found.append((first + int(np.argmax(around > around.max() / 2))) / RATE - time)
    return np.array(found)


def test_a_name_that_is_taken_is_told_before_music_is_stretched(
    walk: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(routine, "read_music", lambda *_: pytest.fail("it was stretched"))
    (tmp_path / "taken.mid").touch()
    written = ("-o", tmp_path / "out.wav", "--midi", tmp_path / "taken.mid")
    told = run("render", walk, *written, "--percent", 70)
    assert told.exit_code == 3
    assert "already" in told.output


@pytest.mark.parametrize("percent", [70, 120])
def test_throws_fall_on_the_stretched_beats(walk: Path, tmp_path: Path, percent: int) -> None:
    out, events = tmp_path / "out.wav", tmp_path / "events.json"
    quiet = ("--say", "nothing", "--no-announce", "--no-stop-word", "--no-cues", "--no-tune")
    told = run("render", walk, "-o", out, "--events", events, "--percent", percent, *quiet)
    assert told.exit_code == 0, told.output
    beats = json.loads(events.read_text("utf-8"))["beats"]
    thrown = [beat for beat in beats if 0 <= beat["beat"] < 48]
    assert {round(beat["tempo"], 6) for beat in thrown} == {round(2 * 123.7 * percent / 100, 6)}
    times = np.array([beat["time"] for beat in thrown])
    mixed = soundfile.read(str(out))[0][:, 1]
    high = sosfiltfilt(butter(6, BETWEEN, "high", fs=RATE, output="sos"), mixed)
    burst = struck(np.zeros(1), 0.03, RATE, hertz=16_000.0).astype(np.float64)
    alone = rises(np.concatenate((np.zeros(RATE), burst, np.zeros(RATE))), np.ones(1), 0.02)
    assert np.abs(rises(high, times[::2], 0.02) - alone).max() < LOCKED
    click = click_clip(Click("throw", "right", value=3), RATE, tune=False).samples[:, 1]
    ours = rises(np.concatenate((np.zeros(RATE), click, np.zeros(RATE))), np.ones(1), 0.02)
    low = sosfiltfilt(butter(4, HUM / 2, "low", fs=RATE, output="sos"), mixed)
    assert np.abs(rises(low, times[:36:2], 0.02) - ours).max() < LOCKED
    middle = mixed[4 * RATE : 4 * RATE + (1 << 19)]
    power = np.abs(np.fft.rfft(middle * np.hanning(len(middle))))
    hertz = np.fft.rfftfreq(len(middle), 1 / RATE)
    near = np.flatnonzero(np.abs(hertz - HUM) < 300)
    assert abs(1200 * np.log2(hertz[near[np.argmax(power[near])]] / HUM)) < CENTS


def test_live_it_is_what_is_rendered(walk: Path) -> None:
    source = routine_source(walk, Request(percent=70, announce=False))
    with source.in_a_file() as piece:
        seconds = piece.timeline.seconds
        assert seconds is not None
        rendered = piece.sound().read(frame_at(seconds, RATE))
        deck = Deck(piece.voice)
        deck.obey(Play(ScheduledRun(piece.run, 0.5, piece.balance, track=piece.track)))
        live = np.concatenate([deck.read(4_800) for _ in range(round(10 * (seconds + 1)))])
        assert piece.track is not None
        kept = piece.track.music.path
    begins = frame_at(0.5, RATE)
    assert np.array_equal(live[begins : begins + len(rendered)], rendered)
    assert not kept.exists()


def test_all_beats_come_at_exactly_their_share(walk: Path) -> None:
    pieces = []
    for percent in (None, 70):
        source = routine_source(walk, Request(percent=percent, announce=False))
        piece = source.piece(source.voice(RATE))
        first = next(beat.time for beat in piece.timeline if beat.beat == 0)
        pieces.append((source, [beat.time - first for beat in piece.timeline if beat.beat >= 0]))
    (own, times), (slow, slower) = pieces
    assert slower == pytest.approx([time / 0.7 for time in times], rel=1e-12)
    assert own.laid.routine.music is not None
    assert slow.laid.routine.music is not None
    beats = own.laid.routine.music.times
    assert slow.laid.routine.music.times == tuple(time / 0.7 for time in beats)


def test_the_end_of_the_music_is_told_where_it_comes(walk: Path) -> None:
    walk.write_text(walk.read_text("utf-8").replace("beats = 36", "beats = 240"), "utf-8")
    document = json.loads(run("plan", walk, "--percent", 50, "--json").stdout)
    begins = document["entries"][0]["time"] - FIRST_THROW / 0.5
    minutes, seconds = divmod(round(begins + 16 / 0.5), 60)
    assert document["notes"][0].startswith(f"The music is over at {minutes}:{seconds:02}")


@pytest.mark.parametrize("percent", [49.9, 150.1, 300])
def test_music_is_not_stretched_beyond_recognition(walk: Path, percent: float) -> None:
    for command in ("plan", "render", "play"):
        told = run(command, walk, "--percent", percent, *(["-o", "x.wav"] * (command == "render")))
        assert told.exit_code == 2
        assert f"--percent {percent:g} is too far for music" in told.output
        assert "50 to 150 % of its tempo" in told.output


def test_music_slower_than_can_be_kept_is_told(walk: Path) -> None:
    text = walk.read_text("utf-8").replace("123.7", "15").replace("2:1", "1:1")
    walk.write_text(text.replace("bar = 2\n", ""), "utf-8")
    told = run("plan", walk, "--percent", 50)
    assert told.exit_code == 2
    assert "--percent 50: A tempo of 7.5 beats a minute is outside" in told.output
