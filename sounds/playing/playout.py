"""A deck on a device: PortAudio asks for frames from a thread of its own, and the deck makes them.

They are made there and then: in Python a store of sound between the two would not help, since
both sides wait for the same lock.
"""

import time
from collections.abc import Callable
from typing import Any, Final

from sounds.errors import DeviceError
from sounds.playing.deck import Deck
from sounds.playing.devices import SoundLibrary, close_stream
from sounds.playing.gap_watch import GapWatch
from sounds.playing.messages import PlayerState
from sounds.voices.clip import Samples

BLOCK: Final = 256
"""Frames a request. No gap was measured with 256, every core busy; with 64 there were some."""

STILL: Final = 0.6
"""Seconds without a request, told by `PULSES` pulses in a row, after which a device is held to be
gone."""

PULSES: Final = 4
STOPPED: Final = "The sound device stopped; it may have been unplugged or switched."


class Playout:
    """A deck that a device plays.

    `rate` is in frames a second. `clock` counts seconds and never runs backwards.
    """

    def __init__(self, deck: Deck, rate: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._deck = deck
        self._clock = clock
        self._watch = GapWatch(rate)
        self._asked = clock()
        self._anchor: tuple[int, float] | None = None
        self._fault = ""
        self._still = 0
        self._told = 0
        self._stream: Any = None

    def start(
        self, library: SoundLibrary, device: str | None, channels: int, rate: int, latency: float
    ) -> None:
        """Open a device and play.

        Parameters
        ----------
        library
            The module sounddevice.
        device
            The name of an output or an unmistakable part of it; the default one if None.
        channels
            1, where both sides of the sound become one, or 2.
        rate
            Frames a second.
        latency
            Seconds of sound kept ready.

        Raises
        ------
        DeviceError
            If it cannot be opened so.
        """
        try:
            self._stream = library.OutputStream(
                samplerate=rate,
                blocksize=BLOCK,
                device=device,
                channels=channels,
                dtype="float32",
                latency=latency,
                callback=self.request,
            )
            self._asked = self._clock()
            self._stream.start()
        except library.PortAudioError as error:
            raise DeviceError(
                f"The sound device cannot play {rate} frames a second: {error}."
            ) from error

    def request(self, frames: Samples, _count: int, moments: Any, status: Any) -> None:  # noqa: ANN401 - sounddevice has no types
        """Answer a request of PortAudio for the next frames."""
        self._asked = self._clock()
        position = self._deck.position
        self._watch.note(position, self._asked, told=bool(status.output_underflow))
        delay = moments.outputBufferDacTime - moments.currentTime
        if delay <= 0.0:  # Some hosts do not tell, above all at first.
            delay = self._stream.latency
        self._anchor = (position, self._asked + delay)
        try:
            block = self._deck.read(len(frames))
        except Exception as error:  # noqa: BLE001 - whatever it is, the other process is to know
            self._fault = f"The sound cannot be made: {error!r}."
            frames[:] = 0.0
            return
        frames[:] = block.mean(axis=1, keepdims=True) if frames.shape[1] == 1 else block

    def pulse(self) -> PlayerState:
        """Return how things stand; to be called several times a second."""
        now = self._clock()
        played = self._deck.position
        self._still = self._still + 1 if played == self._told else 0
        self._told = played
        over = self._deck.over
        if not over and not self._fault:
            silent = self._still >= PULSES and now - self._asked > STILL
            if silent or not self._stream.active:
                self._fault = STOPPED
        return PlayerState(now, played, self._anchor, self._watch.gaps, over, self._fault)

    def close(self) -> None:
        """Close the device, but do not wait for one that hangs."""
        close_stream(self._stream)
