"""What sounddevice offers, without any sound.

The devices are made by hand, and frames are asked for when a test does so.
"""

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import numpy as np
import numpy.typing as npt

HOSTS = ({"name": "First host"}, {"name": "Second host"})
DEVICES = (("Microphone", 0, 0, 44_100, 1), ("Speakers", 0, 2, 48_000), ("Speakers", 1, 6, 44_100),
           ("One ear", 0, 1, 44_100, 2))  # fmt: skip
"""Name, number of the host, channels of output, rate, channels of input if there are any."""
DEFAULTS = ("input", "output")
"""Of which kind the first devices are the default."""


class PortAudioError(Exception):
    """As sounddevice names it."""


class FakeStream:
    """An output that plays only what a test asks of it."""

    latency = 0.06

    def __init__(self, settings: dict[str, Any]) -> None:
        self.settings = settings
        self.active = False
        self.closed = False
        self.played = np.zeros((0, settings["channels"]), np.float32)

    def start(self) -> None:
        self.active = True

    def close(self) -> None:
        self.closed = True

    def ask(
        self, *, count: int = 256, now: float = 0.0, dac: float = 0.0, gap: bool = False
    ) -> None:
        """Ask for frames, as PortAudio does from its own thread."""
        frames = np.full((count, self.settings["channels"]), np.nan, np.float32)
        moments = SimpleNamespace(currentTime=now, outputBufferDacTime=dac)
        self.settings["callback"](frames, count, moments, SimpleNamespace(output_underflow=gap))
        self.played = np.concatenate((self.played, frames))


class FakeInput:
    """An input that hears only what a test gives it."""

    latency = 0.08

    def __init__(self, settings: dict[str, Any]) -> None:
        self.settings = settings
        self.active = False
        self.closed = False

    def start(self) -> None:
        self.active = True

    def close(self) -> None:
        self.closed = True

    def hear(self, frames: npt.NDArray[np.float32], *, now: float = 0.0, adc: float = 0.0) -> None:
        """Hand over frames, as PortAudio does from its own thread; they are gone afterwards."""
        lent = frames.reshape(-1, self.settings["channels"]).copy()
        moments = SimpleNamespace(currentTime=now, inputBufferAdcTime=adc)
        self.settings["callback"](lent, len(lent), moments, SimpleNamespace(input_overflow=False))
        lent[:] = np.nan


class FakeSounddevice:
    """The part of the module that is used.

    Parameters
    ----------
    devices
        Like `DEVICES`; the default input is the first, the default output the second.
    refusal
        What opening a stream is refused with.
    """

    PortAudioError = PortAudioError

    def __init__(self, devices: Sequence[tuple[Any, ...]] = DEVICES, refusal: str = "") -> None:
        self._refusal = refusal
        self.stream: FakeStream | None = None
        self.input: FakeInput | None = None
        self._devices = [
            {
                "index": index,
                "name": name,
                "hostapi": host,
                "max_output_channels": channels,
                "max_input_channels": sum(inputs),
                "default_samplerate": float(rate),
            }
            for index, (name, host, channels, rate, *inputs) in enumerate(devices)
        ]

    def query_hostapis(self) -> Sequence[dict[str, str]]:
        return HOSTS

    def query_devices(self, device: str | None = None, kind: str | None = None) -> object:
        if kind is None:
            return self._devices
        if device is None:
            if not self._devices:
                raise PortAudioError("Error querying device -1")
            return self._devices[DEFAULTS.index(kind)]
        found = [
            entry
            for entry in self._devices
            if entry[f"max_{kind}_channels"]
            and device in f"{entry['name']}, {HOSTS[entry['hostapi']]['name']}"
        ]
        if len(found) != 1:
            raise ValueError(f"No or several {kind} devices")
        return found[0]

    def OutputStream(self, **settings: object) -> FakeStream:  # noqa: N802 - as sounddevice names it
        if self._refusal:
            raise PortAudioError(self._refusal)
        self.stream = FakeStream(settings)
        return self.stream

    def InputStream(self, **settings: object) -> FakeInput:  # noqa: N802 - likewise
        if self._refusal:
            raise PortAudioError(self._refusal)
        self.input = FakeInput(settings)
        return self.input
