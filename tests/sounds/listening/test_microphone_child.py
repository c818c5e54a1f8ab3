"""An input without any sound: what it hands over, when, and what is told of one that fails."""

import numpy as np
import pytest
from fake_sounddevice import FakeInput, FakeSounddevice

from throwcount.sounds.errors import DeviceError
from throwcount.sounds.listening.microphone_child import Capture

RATE = 44_100


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def opened(channels: int = 1) -> tuple[Capture, FakeInput, Clock]:
    library, clock = FakeSounddevice(), Clock()
    capture = Capture(library, None, channels, RATE, clock)
    assert library.input is not None
    return capture, library.input, clock


def test_what_is_opened() -> None:
    _, stream, _ = opened(channels=6)
    assert stream.active
    assert (stream.settings["channels"], stream.settings["samplerate"]) == (2, RATE)


def test_channels_are_averaged_and_kept() -> None:
    capture, stream, _ = opened(channels=2)
    stream.hear(np.array([[0.5, 0.25], [1.0, -1.0]], np.float32))
    piece = capture.next(1.0)
    assert piece is not None
    assert piece.samples.tolist() == [0.375, 0.0]


@pytest.mark.parametrize(
    ("now", "adc", "moment"),
    [(7.0, 6.75, 99.75), (0.0, 0.0, 99.92), (7.0, 7.5, 99.92), (7.0, 0.0, 99.92)],
)
def test_when_it_was_sounded(now: float, adc: float, moment: float) -> None:
    """As the device says; where it says nothing that can be, by its latency."""
    capture, stream, _ = opened()
    stream.hear(np.zeros(10, np.float32), now=now, adc=adc)
    piece = capture.next(1.0)
    assert piece is not None
    assert piece.moment == pytest.approx(moment, abs=1e-9)


def test_an_input_that_goes_still_is_gone() -> None:
    capture, stream, clock = opened()
    clock.now += 0.9
    assert capture.next(0.0) is None
    assert not capture.is_gone
    stream.hear(np.zeros(10, np.float32))
    clock.now += 0.9
    assert not capture.is_gone
    clock.now += 0.2
    assert capture.is_gone


def test_an_input_that_has_stopped_is_gone() -> None:
    capture, stream, _ = opened()
    stream.active = False
    assert capture.is_gone
    capture.close()
    assert stream.closed


def test_an_input_that_refuses_is_told() -> None:
    with pytest.raises(DeviceError, match="44100 Hz: Invalid sample rate"):
        Capture(FakeSounddevice(refusal="Invalid sample rate"), None, 1, RATE)
