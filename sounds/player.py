"""Sound is played from its source, in real time.

PortAudio asks for the next frames from a thread of its own, and the source makes them there and
then: in Python a buffer between the two would not help, since both sides wait for the same lock.
"""

import gc
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Final

import numpy as np

from sounds.clip import Samples
from sounds.devices import SoundLibrary, find_output, native_chatter_discarded, sound_library
from sounds.errors import DeviceError
from sounds.mixer import CHANNELS, Source, falling

BLOCK: Final = 256
LATENCY: Final = 0.05
"""Frames a request and seconds of buffer: no gap was measured at these, with every core busy."""

SWITCH_INTERVAL: Final = 0.0005
"""Seconds after which a busy Python thread lets the sound through."""

STOP_FADE: Final = 0.005
"""Seconds of fading when stopped before the end."""

LAST_SILENCE: Final = 0.1
"""Seconds of silence after the last sound, beyond the latency: a device that is closed drops
what it has not played yet."""

PATIENCE: Final = 2.0
"""Seconds without a request after which a device is held to be gone."""


class Playout:
    """A source handed out request by request, with silence after its end, or a quick fade-out.

    Parameters
    ----------
    source
        What to play, until it hands out nothing more.
    fade
        Frames of fading when stopped.
    silence
        Frames of silence after the last sound before all is over.
    """

    def __init__(self, source: Source, fade: int, silence: int) -> None:
        self.position = 0
        self.over = threading.Event()
        self._source = source
        self._fade = falling(fade)
        self._silence = silence
        self._stopping = False

    def stop(self) -> None:
        """Fade out, from the next request on."""
        self._stopping = True

    def fill(self, frames: Samples) -> None:
        """Fill `frames`, of shape (frames, 1) or (frames, 2), with what comes next."""
        block = self._next(len(frames))
        if frames.shape[1] == 1:
            block = block.mean(axis=1, keepdims=True)
        frames[: len(block)] = block
        frames[len(block) :] = 0.0
        self.position += len(block)
        self._silence -= len(frames) - len(block)
        if self._silence <= 0:
            self.over.set()

    def _next(self, count: int) -> Samples:
        block = self._source.read(count)
        if self._stopping:
            block = block[: len(self._fade)]
            block *= self._fade[: len(block), np.newaxis]
            self._fade = self._fade[len(block) :]
        return block


class Player:
    """A source that is being played; made by `playing`.

    Attributes
    ----------
    underflows
        How often the device has told that it ran out of sound.
    """

    def __init__(self, playout: Playout, rate: int, clock: Callable[[], float]) -> None:
        self.underflows = 0
        self._playout = playout
        self._rate = rate
        self._clock = clock
        self._asked = clock()
        self._anchor = (0, self._asked)
        self._error: Exception | None = None
        self._stream: Any = None

    def stop(self) -> None:
        """Fade out and end; `wait` tells when it is over."""
        self._playout.stop()

    def heard(self) -> int:
        """Return the frame that is heard now, by what the device says of its delay."""
        position, moment = self._anchor
        frame = position + round((self._clock() - moment) * self._rate)
        return min(max(frame, 0), self._playout.position)

    def wait(self, seconds: float) -> bool:
        """Wait, and return whether all has been heard.

        Raises
        ------
        DeviceError
            If the device has stopped.
        """
        over = self._playout.over.wait(seconds)
        if self._error is not None:
            raise self._error
        silent = self._clock() - self._asked > PATIENCE
        if not over and (silent or not self._stream.active):
            raise DeviceError("The sound device stopped; it may have been unplugged or switched.")
        return over

    def start(self, stream: Any) -> None:  # noqa: ANN401 - sounddevice has no types
        """Begin to play on an open stream."""
        self._stream = stream
        self._asked = self._clock()
        stream.start()

    def request(self, frames: Samples, _count: int, moments: Any, status: Any) -> None:  # noqa: ANN401 - likewise
        """Answer a request of PortAudio for the next frames."""
        self._asked = self._clock()
        self.underflows += bool(status.output_underflow)
        now = moments.currentTime
        delay = moments.outputBufferDacTime - now
        if delay <= 0.0:  # Some hosts do not tell, above all at first.
            delay = self._stream.latency
        self._anchor = (self._playout.position, self._asked + delay)
        try:
            self._playout.fill(frames)
        except Exception as error:  # noqa: BLE001 - raised again by `wait`, in the thread of the caller
            self._error = error
            frames[:] = 0.0
            self._playout.over.set()


@contextmanager
def playing(  # noqa: PLR0913 - what is played, on what, and with which library and clock
    source: Source,
    rate: int,
    device: str | None = None,
    *,
    latency: float = LATENCY,
    library: SoundLibrary | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Iterator[Player]:
    """Play a source while the context lasts; leaving it early fades the sound out.

    Parameters
    ----------
    source
        What to play, until it hands out nothing more.
    rate
        Frames a second.
    device
        The name of an output or an unmistakable part of it; the default one if None.
    latency
        Seconds of buffer, about 0.03 to 0.2; more is safer on a busy machine.
    library
        The module sounddevice, loaded if not given.
    clock
        Seconds that never run backwards.

    Raises
    ------
    DeviceError
        If there is nothing to play on, or it cannot be opened so.
    """
    library = library or sound_library()
    with native_chatter_discarded(), _undisturbed():
        channels = min(CHANNELS, find_output(library, device)["max_output_channels"])
        silence = round((latency + LAST_SILENCE) * rate)
        playout = Playout(source, round(STOP_FADE * rate), silence)
        player = Player(playout, rate, clock)
        with _refusals(library, rate):
            stream = library.OutputStream(
                samplerate=rate,
                blocksize=BLOCK,
                device=device,
                channels=channels,
                dtype="float32",
                latency=latency,
                callback=player.request,
            )
        try:
            with _refusals(library, rate):
                player.start(stream)
            yield player
        finally:
            playout.stop()
            playout.over.wait(2 * (latency + LAST_SILENCE))
            _close(stream)


@contextmanager
def _refusals(library: SoundLibrary, rate: int) -> Iterator[None]:
    """Turn PortAudio's refusal to open or start a device into a plain sentence."""
    try:
        yield
    except library.PortAudioError as error:
        raise DeviceError(
            f"The sound device cannot play {rate} frames a second: {error}."
        ) from error


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Let the sound through quickly: no long garbage collection, short turns of other threads."""
    interval = sys.getswitchinterval()
    gc.collect()
    gc.freeze()
    sys.setswitchinterval(SWITCH_INTERVAL)
    try:
        yield
    finally:
        sys.setswitchinterval(interval)
        gc.unfreeze()


def _close(stream: Any) -> None:  # noqa: ANN401 - sounddevice has no types
    """Close a stream, but do not wait for one that hangs."""
    closing = threading.Thread(target=stream.close, daemon=True)
    closing.start()
    closing.join(PATIENCE)
