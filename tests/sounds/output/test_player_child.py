"""A deck on a device that asks only when a test lets it: every request is in sight."""

import threading

import numpy as np
import pytest
from fake_sounddevice import FakeSounddevice, FakeStream
from waiting import LIMIT

from throwcount.sounds.errors import DeviceError
from throwcount.sounds.output.commands import End, Say
from throwcount.sounds.output.deck import Deck
from throwcount.sounds.output.player_child import BLOCK, PULSES, Playout
from throwcount.sounds.samples import Clip, Samples
from throwcount.sounds.voices.stand_ins import ClipBank

STILL = 0.6
"""Seconds: with a pulse and a look it makes less than the second in which it is to be noticed."""


RATE = 8_000
LATENCY = 0.05


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


class Stage:
    """A playout on a fake device, with a clock that stands still."""

    def __init__(self, channels: int = 2, refusal: str = "") -> None:
        self.library = FakeSounddevice(refusal=refusal)
        self.clock = Clock()
        sound = np.linspace(0.1, 0.4, 1_000, dtype=np.float32)
        word = Clip(np.column_stack((sound, -sound / 2)), RATE)
        self.deck = Deck(ClipBank(RATE, {"word": [word]}), LATENCY)
        self.deck.obey(Say("word", 0.0))
        self.playout = Playout(RATE, self.clock)
        self.playout.play(self.deck)
        self.playout.start(self.library, "Speakers, First host", channels, RATE, LATENCY)

    @property
    def stream(self) -> FakeStream:
        assert self.library.stream is not None
        return self.library.stream


def said() -> Samples:
    sound = np.linspace(0.1, 0.4, 1_000, dtype=np.float32)
    return np.column_stack((sound, -sound / 2))


@pytest.mark.parametrize("count", [64, 250, 256, 1_024])
def test_what_is_played_is_what_the_deck_hands_out(count: int) -> None:
    stage = Stage()
    while len(stage.stream.played) < 1_200:
        stage.stream.ask(count=count)
    assert np.array_equal(stage.stream.played[:1_000], said())
    assert not stage.stream.played[1_000:].any()


def test_silence_is_played_until_the_deck_is_loaded_and_its_clock_counts_it() -> None:
    library, deck = FakeSounddevice(), Deck(ClipBank(RATE))
    playout = Playout(RATE, Clock())
    playout.start(library, None, 2, RATE, LATENCY)
    assert library.stream is not None
    library.stream.ask(count=300)
    assert playout.pulse().played == 300
    deck.obey(Say("word", 0.0))
    playout.play(deck)
    library.stream.ask(count=200)
    assert deck.position == playout.pulse().played == 500
    assert not library.stream.played.any()  # what ought to have begun before is left out


def test_one_ear_hears_both_sides() -> None:
    stage = Stage(channels=1)
    stage.stream.ask(count=1_000)
    assert np.array_equal(stage.stream.played[:, 0], said().mean(axis=1))


def test_the_device_is_opened_as_asked() -> None:
    settings = Stage().stream.settings
    del settings["callback"]
    assert settings == {
        "samplerate": RATE,
        "blocksize": BLOCK,
        "device": "Speakers, First host",
        "channels": 2,
        "dtype": "float32",
        "latency": LATENCY,
    }


def test_a_refusal_is_told_in_a_sentence() -> None:
    with pytest.raises(DeviceError, match="cannot play at 8000 Hz: Invalid sample rate"):
        Stage(refusal="Invalid sample rate")


def test_a_pulse_tells_how_far_it_has_come_and_when_that_is_heard() -> None:
    stage = Stage()
    assert stage.playout.pulse().heard is None
    stage.stream.ask(count=800, now=7.0, dac=7.04)
    pulse = stage.playout.pulse()
    assert (pulse.moment, pulse.played, pulse.over, pulse.fault) == (100.0, 800, False, "")
    # The first frame asked for is heard 40 ms later, as the device says.
    assert pulse.heard == (0, pytest.approx(100.04))
    stage.clock.now += 0.1
    stage.stream.ask(count=800, now=7.1, dac=7.15)
    assert stage.playout.pulse().heard == (800, pytest.approx(100.15))


def test_a_device_that_tells_no_delay_is_taken_at_its_latency() -> None:
    stage = Stage()
    stage.stream.ask(count=800, now=7.0, dac=0.0)
    assert stage.playout.pulse().heard == (0, pytest.approx(100.0 + FakeStream.latency))


def test_gaps_are_counted() -> None:
    stage = Stage()
    for gap in (False, True, True):
        stage.stream.ask(gap=gap)
    assert stage.playout.pulse().gaps == 2


def test_the_end_is_told_when_the_last_silence_has_been_played() -> None:
    stage = Stage()
    stage.deck.obey(End())
    while not stage.playout.pulse().over:
        stage.stream.ask()
        assert len(stage.stream.played) < 2_000
    assert len(stage.stream.played) >= LATENCY * RATE
    stage.stream.active = False
    assert stage.playout.pulse().fault == ""  # a device may stop after the end


def test_a_device_that_stops_is_told() -> None:
    stage = Stage()
    stage.stream.ask()
    assert stage.playout.pulse().fault == ""
    stage.stream.active = False
    assert "stopped; it may have been unplugged" in stage.playout.pulse().fault


def test_a_device_that_asks_no_more_is_told() -> None:
    stage = Stage()
    stage.stream.ask()
    faults = []
    for _ in range(10):
        faults.append(stage.playout.pulse().fault)
        stage.clock.now += 0.1
    silent = [number for number, fault in enumerate(faults) if fault]
    assert silent[0] == 1 + round(STILL * 10)


def test_a_process_that_was_held_up_does_not_blame_the_device() -> None:
    stage = Stage()
    for _ in range(5):
        stage.stream.ask()
        stage.clock.now += 3.0
        for _ in range(PULSES):
            assert stage.playout.pulse().fault == ""


def test_sound_that_cannot_be_made_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_count: int) -> Samples:
        raise ZeroDivisionError("no more")

    stage = Stage()
    monkeypatch.setattr(stage.deck, "read", fail)
    stage.stream.ask()
    assert "cannot be made: ZeroDivisionError('no more')" in stage.playout.pulse().fault
    assert not stage.stream.played.any()


def test_a_device_that_hangs_when_closed_is_left() -> None:
    stage = Stage()
    released = threading.Event()
    stage.stream.close = released.wait
    closing = threading.Thread(target=stage.playout.close)
    closing.start()
    closing.join(LIMIT)
    assert not closing.is_alive()
    released.set()


def test_a_device_is_closed() -> None:
    stage = Stage()
    stage.playout.close()
    assert stage.stream.closed
