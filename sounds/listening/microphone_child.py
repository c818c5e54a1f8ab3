"""The process that listens: it opens an input, finds thuds in it, and sends them.

It has an interpreter of its own, so that finding thuds cannot hold up the sound that is played.
PortAudio hands over frames in a thread of its own. Nothing is kept unless a take is asked for. The
process ends with its parent, however that ends, since standard input then ends.
"""

import queue
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import IO, Any, Final, NoReturn

import soxr

from throwcount.sounds.child_process import read_message, run_between_pipes, write_message
from throwcount.sounds.echo.clocks import TakeClock
from throwcount.sounds.echo.removal import DeckCall, LiveRemoval
from throwcount.sounds.errors import DeviceError, FileError, UnknownDeviceError
from throwcount.sounds.listening.microphone import (
    DeckHeard,
    HeardThuds,
    Keeping,
    Kept,
    ListeningOpening,
    Lost,
    NewDeck,
    NotKept,
)
from throwcount.sounds.listening.take import TakeFile
from throwcount.sounds.listening.thuds import Thud, ThudFinder
from throwcount.sounds.output.deck import Sent
from throwcount.sounds.output.devices import SoundLibrary, close_stream, find_input, sound_library
from throwcount.sounds.output.messages import Opened, Refused
from throwcount.sounds.samples import RATE, Mono, Samples

BLOCK: Final = 1024
"""Frames a block: some twenty milliseconds."""

LATENCY: Final = 0.1
"""Seconds of sound that the device may hold back; nothing here is urgent."""

CHANNELS: Final = 2
"""Most channels that are averaged; more are not the microphones of one person."""

STILL: Final = 1.0
"""Seconds without a block after which the input counts as gone."""

LONGEST_DELAY: Final = 1.0
"""Longest delay in seconds that is believed."""


@dataclass(frozen=True, slots=True, eq=False)
class InputBlock:
    """Sound as it comes from an input."""

    samples: Mono
    """The mean of the channels."""
    moment: float
    """When its first frame sounded, by the device."""


class Capture:
    """An open input.

    `library` is the module sounddevice. `device` is the name of an input or a part of it that no
    other has; the default input if None. `channels` are those of the input, `rate` is its sample
    rate in Hz. `clock` counts seconds and never runs backwards.

    Raises
    ------
    DeviceError
        If the input cannot be opened.
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
        self._blocks: queue.SimpleQueue[InputBlock] = queue.SimpleQueue()
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
            raise DeviceError(f"The sound input cannot be opened at {rate} Hz: {error}.") from error

    def take(self, frames: Samples, _count: int, times: Any, _status: Any) -> None:  # noqa: ANN401 - sounddevice has no types
        """Copy frames from PortAudio, which reuses their memory."""
        self._came = self._clock()
        delay = times.currentTime - times.inputBufferAdcTime
        if not 0.0 < delay < LONGEST_DELAY:  # Some hosts report none.
            delay = self._stream.latency
        self._blocks.put(InputBlock(frames.mean(axis=1), self._came - delay))

    def next(self, patience: float) -> InputBlock | None:
        """Return the next block; None if none comes within `patience` seconds."""
        try:
            return self._blocks.get(timeout=patience)
        except queue.Empty:
            return None

    @property
    def is_gone(self) -> bool:
        """Whether the input has stopped."""
        return not self._stream.active or self._clock() - self._came > STILL

    def close(self) -> None:
        """Close the input, without waiting for one that hangs."""
        close_stream(self._stream)


PATIENCE: Final = 0.1
"""Seconds to wait for a block before other things are checked."""

USUAL_RATE: Final = 48_000
STOPPED: Final = "The microphone stopped; it may have been unplugged or switched."


class Listener:
    """Finds thuds in blocks of sound as they come, on the clock of the computer.

    `rate` is the sample rate of the blocks in Hz. `call` is played meanwhile and is taken out of
    them; None if nothing is played.
    """

    def __init__(self, rate: int, call: DeckCall | None = None) -> None:
        self._finder = ThudFinder(RATE)
        self._clock = TakeClock(rate)
        self._removal = None if call is None else LiveRemoval(call, self._clock.moment)
        self._resampler = soxr.ResampleStream(rate, RATE, 1, dtype="float32")
        self._frames = 0
        self._decided = 0.0

    def push(self, block: InputBlock) -> HeardThuds | None:
        """Return what is decided with a block; None if nothing more is."""
        self._clock.note(self._frames, block.moment)
        self._frames += len(block.samples)
        samples: Mono = self._resampler.resample_chunk(block.samples)
        if self._removal is not None:
            samples = self._removal.push(samples)
        thuds = self._finder.push(samples)
        decided, self._decided = self._decided, self._finder.decided
        if self._decided == decided:
            return None
        return self._heard_thuds(thuds, self._decided)

    def finish(self) -> HeardThuds | None:
        """Return the last thuds; None if no sound came at all."""
        if not self._frames:
            return None
        rest = self._finder.push(self._removal.finish()) if self._removal is not None else []
        return self._heard_thuds([*rest, *self._finder.finish()], self._decided)

    def follow(self, call: DeckCall) -> None:
        """Take out what another deck plays from now on."""
        if self._removal is not None:
            self._removal.follow(call)

    def _heard_thuds(self, thuds: list[Thud], decided: float) -> HeardThuds:
        moment = self._clock.moment
        found = tuple(replace(thud, time=moment(thud.time)) for thud in thuds)
        return HeardThuds(found, moment(decided), moment(0.0))


class ListeningProcess:
    """The work of the process; messages come from `orders` and go to `reports`."""

    def __init__(self, orders: IO[bytes], reports: IO[bytes]) -> None:
        self._orders = orders
        self._reports = reports
        self._over = threading.Event()
        self._news: queue.SimpleQueue[object] = queue.SimpleQueue()

    def run(self) -> None:
        """Listen until the parent is gone."""
        opening = read_message(self._orders)
        assert isinstance(opening, ListeningOpening)  # noqa: S101 - there is no other message
        try:
            library = sound_library()
            device = find_input(library, opening.device)
            rate = round(device["default_samplerate"]) or USUAL_RATE
            capture = Capture(library, opening.device, device["max_input_channels"], rate)
        except DeviceError as error:
            self._tell(Refused(str(error), isinstance(error, UnknownDeviceError)))
            return
        threading.Thread(target=self._take_in, daemon=True).start()
        self._tell(Opened(rate))
        self._listen(capture, self._begun(opening, rate), rate, opening.call_rate)
        capture.close()

    def _listen(
        self, capture: Capture, take: TakeFile | None, rate: int, call_rate: int | None
    ) -> None:
        call = None if call_rate is None else DeckCall(call_rate)
        listener = Listener(rate, call)
        while not self._over.is_set():
            block = capture.next(PATIENCE)
            if block is not None:
                take = self._kept(take, block.samples)
                call = self._followed(listener, call, call_rate)
                self._tell(listener.push(block))
            elif capture.is_gone:
                self._tell(Lost(STOPPED))
                break
        self._put_away(take)  # first, as it cannot be made again
        self._tell(listener.finish())

    def _take_in(self) -> None:
        """Receive messages about the deck until the parent is gone."""
        with suppress(EOFError):
            while True:
                self._news.put(read_message(self._orders))
        self._over.set()

    def _followed(
        self, listener: Listener, call: DeckCall | None, rate: int | None
    ) -> DeckCall | None:
        """Return the call, updated by the messages about the deck; None if there is none."""
        while call is not None and rate is not None and not self._news.empty():
            match self._news.get():
                case Sent() as sent:
                    call.note(sent)
                case DeckHeard(seconds, moment):
                    call.hear(seconds, moment)
                case NewDeck():
                    call = DeckCall(rate)
                    listener.follow(call)
        return call

    def _begun(self, opening: ListeningOpening, rate: int) -> TakeFile | None:
        if opening.take is None:
            return None
        try:
            take = TakeFile(opening.take, rate)
        except FileError as error:
            self._tell(NotKept(str(error)))
            return None
        self._tell(Keeping(take.unfinished))
        return take

    def _kept(self, take: TakeFile | None, samples: Mono) -> TakeFile | None:
        """Write what was heard; return the take, or None if it cannot be written any more."""
        if take is None:
            return None
        try:
            take.write(samples)
        except FileError as error:
            self._tell(NotKept(str(error)))
            return None
        return take

    def _put_away(self, take: TakeFile | None) -> None:
        if take is None:
            return
        try:
            take.close()
        except FileError as error:
            self._tell(NotKept(str(error)))
            return
        if not self._tell(Kept()):
            take.forget()

    def _tell(self, message: object) -> bool:
        """Send a message unless it is None; return whether the parent is still there."""
        if message is not None:
            try:
                write_message(self._reports, message)
            except OSError:  # The parent is gone, and this ends in a moment.
                return False
        return True


def main() -> NoReturn:
    """Listen by the messages on standard input, and report on standard output."""
    run_between_pipes(lambda orders, reports: ListeningProcess(orders, reports).run())


if __name__ == "__main__":
    main()
