"""Stands in for sounddevice in a process of its own: outputs and an input, without any sound.

What becomes of an output is in the environment: after ``PRETEND_SECONDS`` it stops, hangs or
brings the process down (``PRETEND`` is ``stops``, ``hangs`` or ``crashes``). ``absent`` is a
machine without any output; the headset is there as long as the file ``PRETEND_HEADSET`` is. What
is played goes to the file ``PRETEND_RECORDING``, if it is given.
"""

import os
import threading
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

FATE = os.environ.get("PRETEND", "")
SECONDS = float(os.environ.get("PRETEND_SECONDS", "0.7"))
RATES = {"Speakers": 44_100.0, "Headset": 48_000.0}
DELAY = 0.05


class PortAudioError(Exception):
    """As sounddevice names it."""


def query_devices(device: str | None = None, *, kind: str) -> dict[str, Any]:
    if kind == "input":
        return {"max_input_channels": 1, "default_samplerate": RATES["Headset"]}
    names = [] if FATE == "absent" else [name for name in RATES if is_there(name)]
    if not names:
        raise PortAudioError("Error querying device -1")
    found = names[:1] if device is None else [name for name in names if device in name]
    if len(found) != 1:
        raise ValueError("No or several output devices")
    return {"max_output_channels": 2, "default_samplerate": RATES[found[0]]}


def is_there(name: str) -> bool:
    return name == "Speakers" or Path(os.environ.get("PRETEND_HEADSET", "")).is_file()


class OutputStream:
    latency = DELAY

    def __init__(
        self,
        *,
        samplerate: int,
        blocksize: int,
        channels: int,
        callback: Callable[..., None],
        **_settings: object,
    ) -> None:
        self.active = False
        self._seconds = blocksize / samplerate
        self._frames = np.zeros((blocksize, channels), np.float32)
        self._callback = callback
        self._thread = threading.Thread(target=self._play, daemon=True)

    def start(self) -> None:
        self.active = True
        self._thread.start()

    def close(self) -> None:
        if FATE == "hangs":
            threading.Event().wait()
        self.active = False

    def _play(self) -> None:
        start = time.monotonic()
        recording = os.environ.get("PRETEND_RECORDING", os.devnull)
        with Path(recording).open("ab") as file:
            number = 0
            while self.active:
                now = start + number * self._seconds
                time.sleep(max(now - time.monotonic(), 0))
                moments = SimpleNamespace(
                    currentTime=now,
                    outputBufferDacTime=now + DELAY,
                    inputBufferAdcTime=now - DELAY,
                )
                status = SimpleNamespace(output_underflow=False)
                self._callback(self._frames, len(self._frames), moments, status)
                file.write(self._frames.tobytes())
                number += 1
                if FATE and now - start > SECONDS:
                    self._end()
                    return

    def _end(self) -> None:
        os.write(1, b"what a library writes")
        if FATE == "crashes":
            os.abort()
        self.active = FATE == "hangs"


class InputStream(OutputStream):
    """Hears the same faint noise again and again."""

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401 - of several types
        super().__init__(**settings)
        self._frames[:] = np.random.default_rng(1).uniform(-0.01, 0.01, self._frames.shape)
