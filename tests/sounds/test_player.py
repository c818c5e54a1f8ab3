"""The player on a device that asks only when a test lets it: every request is in sight."""

import gc
import sys
import threading
from contextlib import AbstractContextManager

import numpy as np
import pytest
from fake_sounddevice import FakeSounddevice, FakeStream

from sounds.clip import Samples
from sounds.errors import DeviceError
from sounds.mixer import Mixer, Placement
from sounds.player import LAST_SILENCE, PATIENCE, STOP_FADE, SWITCH_INTERVAL, Player, playing

RATE = 8_000
LATENCY = 0.05


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def source(frames: int | None = 1_000) -> Mixer:
    sound = np.linspace(0.1, 0.9, 10_000, dtype=np.float32)
    return Mixer([Placement(0, np.column_stack((sound, -sound / 2)))], frames)


class Stage:
    """A player on a fake device, with a clock that stands still."""

    def __init__(self, **devices: object) -> None:
        self.library = FakeSounddevice(**devices)
        self.clock = Clock()

    def playing(self, what: Mixer, device: str | None = None) -> AbstractContextManager[Player]:
        return playing(what, RATE, device, latency=LATENCY, library=self.library, clock=self.clock)

    @property
    def stream(self) -> FakeStream:
        assert self.library.stream is not None
        return self.library.stream


def play_to_the_end(player: Player, stream: FakeStream, count: int = 256) -> None:
    while not player.wait(0):
        stream.ask(count=count)


@pytest.mark.parametrize("count", [64, 250, 256, 1_024])
def test_what_is_played_is_what_is_mixed(count: int) -> None:
    stage = Stage()
    with stage.playing(source()) as player:
        play_to_the_end(player, stage.stream, count)
    played = stage.stream.played
    assert np.array_equal(played[:1_000], source().read(1_000))
    assert not played[1_000:].any()
    # Silence follows until the last sound has surely left the device, and no longer.
    assert 0 <= len(played) - 1_000 - (LATENCY + LAST_SILENCE) * RATE < count
    assert stage.stream.closed
    assert player.underflows == 0


def test_the_device_is_opened_for_the_source() -> None:
    stage = Stage()
    with stage.playing(source(0)) as player:
        play_to_the_end(player, stage.stream)
    settings = stage.stream.settings
    assert settings["samplerate"] == RATE
    assert settings["channels"] == 2
    assert settings["latency"] == LATENCY


def test_one_ear_hears_both_sides() -> None:
    stage = Stage()
    with stage.playing(source(), "One ear") as player:
        play_to_the_end(player, stage.stream)
    assert stage.stream.played.shape[1] == 1
    both = source().read(1_000)
    assert np.array_equal(stage.stream.played[:1_000, 0], both.mean(axis=1))


@pytest.mark.parametrize("count", [16, 256])
def test_stopping_fades_out_quickly(count: int) -> None:
    stage = Stage()
    with stage.playing(source(None)) as player:
        while len(stage.stream.played) < 512:
            stage.stream.ask(count=count)
        player.stop()
        play_to_the_end(player, stage.stream, count)
    after, fade = stage.stream.played[512:], round(STOP_FADE * RATE)
    assert after[: fade - 1].all()
    assert np.all(np.diff(after[:fade, 0]) < 0.0)
    assert abs(after[fade - 1, 0]) < 1e-3
    assert not after[fade:].any()


def test_leaving_early_fades_out_and_closes() -> None:
    stage = Stage()
    with pytest.raises(KeyboardInterrupt), stage.playing(source(None)):
        raise KeyboardInterrupt
    assert stage.stream.closed
    stage.stream.ask()
    fade = round(STOP_FADE * RATE)
    assert not stage.stream.played[fade:].any()


def test_gaps_are_counted() -> None:
    stage = Stage()
    with stage.playing(source()) as player:
        for gap in (False, True, True):
            stage.stream.ask(gap=gap)
        assert player.underflows == 2


def test_the_frame_that_is_heard_follows_the_clock() -> None:
    stage = Stage()
    with stage.playing(source()) as player:
        assert player.heard() == 0
        stage.stream.ask(count=800, now=7.0, dac=7.04)
        # The first frame asked for is heard 40 ms later, as the device says.
        assert player.heard() == 0
        stage.clock.now += 0.04
        assert player.heard() == 0
        stage.clock.now += 0.05
        assert player.heard() == 400
        stage.stream.ask(count=800, now=7.09, dac=7.14)
        stage.clock.now += 0.05
        assert player.heard() == 800
        stage.clock.now += 10.0
        # Never beyond the end of the source.
        assert player.heard() == 1_000


def test_a_device_that_tells_no_delay_is_taken_at_its_latency() -> None:
    stage = Stage()
    with stage.playing(source()) as player:
        stage.stream.ask(count=800, now=7.0, dac=0.0)
        stage.clock.now += FakeStream.latency + 0.01
        assert player.heard() == 80


@pytest.mark.parametrize("way", ["inactive", "hanging"])
def test_a_device_that_stops_is_told(way: str) -> None:
    stage = Stage()
    with stage.playing(source()) as player:
        stage.stream.ask()
        assert not player.wait(0)
        if way == "inactive":
            stage.stream.active = False
        else:
            stage.clock.now += PATIENCE + 0.1
        with pytest.raises(DeviceError, match="stopped; it may have been unplugged"):
            player.wait(0)
    assert stage.stream.closed


def test_a_device_that_hangs_when_closed_is_left(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sounds.player.PATIENCE", 0.05)
    stage = Stage()
    released = threading.Event()
    with stage.playing(source(0)) as player:
        play_to_the_end(player, stage.stream)
        stage.stream.close = released.wait
    released.set()


def test_a_source_that_fails_is_told_where_it_is_waited_for() -> None:
    class Failing:
        def read(self, _count: int) -> Samples:
            raise ZeroDivisionError("no more")

    stage = Stage()
    with stage.playing(Failing()) as player:
        stage.stream.ask()
        with pytest.raises(ZeroDivisionError, match="no more"):
            player.wait(0)
    assert not stage.stream.played.any()


@pytest.mark.parametrize(
    ("devices", "sentence"),
    [
        ({"refusal": "Invalid sample rate"}, "cannot play 8000 frames a second: Invalid sample"),
        ({"devices": ()}, "There is no sound device to play on"),
    ],
)
def test_what_cannot_be_played_on_is_told(devices: dict[str, object], sentence: str) -> None:
    stage = Stage(**devices)
    with pytest.raises(DeviceError, match=sentence), stage.playing(source()):
        pytest.fail("nothing can be played")


def test_other_work_gets_short_turns_while_sound_is_played() -> None:
    before = sys.getswitchinterval()
    stage = Stage()
    with stage.playing(source(0)) as player:
        assert sys.getswitchinterval() == pytest.approx(SWITCH_INTERVAL)
        assert gc.get_freeze_count() > 0
        play_to_the_end(player, stage.stream)
    assert sys.getswitchinterval() == before
    assert gc.get_freeze_count() == 0
