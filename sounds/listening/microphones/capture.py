"""An input that is listened to: PortAudio hands over frames from a thread of its own."""

import queue
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from sounds.errors import DeviceError
from sounds.listening.rate import Mono
from sounds.playing.devices import SoundLibrary, close_stream
from sounds.voices.clip import Samples

BLOCK: Final = 1024
"""Frames a piece: some twenty milliseconds."""

LATENCY: Final = 0.1
"""Seconds of sound that the device may hold back; nothing here is in a hurry."""

CHANNELS: Final = 2
"""Of which the mean is taken, at most: more are no microphones of one person."""

STILL: Final = 1.0
"""Seconds without a piece after which an input is held to be gone."""

LONGEST_DELAY: Final = 1.0
"""Seconds; what is told to be older than that is told wrongly."""


@dataclass(frozen=True, slots=True, eq=False)
class InputBlock:
    """Sound as it comes from an input."""

    samples: Mono
    """The sound, its channels averaged."""
    moment: float
    """When its first frame was sounded, by what the device says."""


class Capture:
    """An input that is open.

    Parameters
    ----------
    library
        The module sounddevice.
    device
        The name of an input or an unmistakable part of it; the default one if None.
    channels, rate
        Of the input, and its frames a second.
    clock
        Seconds that never run backwards.

    Raises
    ------
    DeviceError
        If it cannot be opened so.
    """

    def __init__(
        self,
        library: SoundLibrary,
        device: str | None,
        channels: int,
        rate: int,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._clock = clock
        self._pieces: queue.SimpleQueue[InputBlock] = queue.SimpleQueue()
        try:
            self._stream = library.InputStream(
                samplerate=rate,
                blocksize=BLOCK,
                device=device,
                channels=min(CHANNELS, channels),
                dtype="float32",
                latency=LATENCY,
                callback=self.take,
            )
            self._came = clock()
            self._stream.start()
        except library.PortAudioError as error:
            raise DeviceError(
                f"The sound input cannot be opened at {rate} frames a second: {error}."
            ) from error

    def take(self, frames: Samples, _count: int, moments: Any, _status: Any) -> None:  # noqa: ANN401 - sounddevice has no types
        """Take frames from PortAudio, which will use their place for others."""
        self._came = self._clock()
        delay = moments.currentTime - moments.inputBufferAdcTime
        if not 0.0 < delay < LONGEST_DELAY:  # Some hosts do not tell.
            delay = self._stream.latency
        self._pieces.put(InputBlock(frames.mean(axis=1), self._came - delay))

    def next(self, patience: float) -> InputBlock | None:
        """Return the next piece; None if none comes within `patience` seconds."""
        try:
            return self._pieces.get(timeout=patience)
        except queue.Empty:
            return None

    @property
    def is_gone(self) -> bool:
        """Whether nothing comes any more."""
        return not self._stream.active or self._clock() - self._came > STILL

    def close(self) -> None:
        """Close the input, but do not wait for one that hangs."""
        close_stream(self._stream)
