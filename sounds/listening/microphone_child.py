"""The process that listens: it opens an input, finds thuds in it, and tells them.

It has an interpreter of its own, so that finding thuds cannot hold up the sound that is played.
Nothing is kept unless a take is asked for. It ends with the process that started it, however that
ends, since its orders then come to an end.

An input that is listened to: PortAudio hands over frames from a thread of its own.
"""

import queue
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import IO, Any, Final, NoReturn

import soxr

from throwcount.sounds.child_process import read_message, run_between_pipes, write_message
from throwcount.sounds.echo.clocks import TakeClock
from throwcount.sounds.echo.removal import DeckCall, LiveRemoval
from throwcount.sounds.errors import DeviceError, FileError
from throwcount.sounds.listening.microphone import (
    DeckHeard,
    Keeping,
    Kept,
    ListeningOpening,
    Lost,
    NewDeck,
    NotKept,
    Overheard,
)
from throwcount.sounds.listening.take import TakeFile
from throwcount.sounds.listening.thuds import Thud, ThudFinder
from throwcount.sounds.output.deck import Sent
from throwcount.sounds.output.devices import SoundLibrary, close_stream, find_input, sound_library
from throwcount.sounds.output.messages import Opened, Refused
from throwcount.sounds.samples import RATE, Mono, Samples

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
        Of the input, and its sample rate in Hz.
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
            raise DeviceError(f"The sound input cannot be opened at {rate} Hz: {error}.") from error

    def take(self, frames: Samples, _count: int, times: Any, _status: Any) -> None:  # noqa: ANN401 - sounddevice has no types
        """Take frames from PortAudio, which will use their place for others."""
        self._came = self._clock()
        delay = times.currentTime - times.inputBufferAdcTime
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


PATIENCE: Final = 0.1
"""Seconds for which a piece of sound is waited for before anything else is looked at."""

USUAL_RATE: Final = 48_000
STOPPED: Final = "The microphone stopped; it may have been unplugged or switched."


class Listener:
    """Finds thuds in pieces of sound as they come, on the clock of the computer.

    `rate` is the sample rate in Hz of the pieces. `call` is what is played meanwhile and is to be
    left out; None where nothing is.
    """

    def __init__(self, rate: int, call: DeckCall | None = None) -> None:
        self._finder = ThudFinder(RATE)
        self._clock = TakeClock(rate)
        self._removal = None if call is None else LiveRemoval(call, self._clock.moment)
        self._resampler = soxr.ResampleStream(rate, RATE, 1, dtype="float32")
        self._frames = 0
        self._decided = 0.0

    def push(self, piece: InputBlock) -> Overheard | None:
        """Return what is decided with a piece; None where nothing more is."""
        self._clock.note(self._frames, piece.moment)
        self._frames += len(piece.samples)
        samples = self._resampled(piece.samples)
        if self._removal is not None:
            samples = self._removal.push(samples)
        thuds = self._finder.push(samples)
        decided, self._decided = self._decided, self._finder.decided
        if self._decided == decided:
            return None
        return self._overheard(thuds, self._decided)

    def finish(self) -> Overheard | None:
        """Return the last thuds; None where nothing was heard at all."""
        if not self._frames:
            return None
        rest = self._finder.push(self._removal.finish()) if self._removal is not None else []
        return self._overheard([*rest, *self._finder.finish()], self._decided)

    def follow(self, call: DeckCall) -> None:
        """Leave out what another deck plays from now on."""
        if self._removal is not None:
            self._removal.follow(call)

    def _resampled(self, samples: Mono) -> Mono:
        resampled: Mono = self._resampler.resample_chunk(samples)
        return resampled

    def _overheard(self, thuds: list[Thud], decided: float) -> Overheard:
        moment = self._clock.moment
        told = tuple(Thud(moment(thud.time), thud.level, thud.confidence) for thud in thuds)
        return Overheard(told, moment(decided), moment(0.0))


class ListeningProcess:
    """All that the process does.

    `orders` and `reports` say where messages come from and where they go.
    """

    def __init__(self, orders: IO[bytes], reports: IO[bytes]) -> None:
        self._orders = orders
        self._reports = reports
        self._over = threading.Event()
        self._news: queue.SimpleQueue[object] = queue.SimpleQueue()

    def run(self) -> None:
        """Listen until nobody is there any more who wants to know."""
        opening = read_message(self._orders)
        assert isinstance(opening, ListeningOpening)  # noqa: S101 - there is no other message
        try:
            library = sound_library()
            device = find_input(library, opening.device)
            rate = round(device["default_samplerate"]) or USUAL_RATE
            capture = Capture(library, opening.device, device["max_input_channels"], rate)
        except DeviceError as error:
            self._tell(Refused(str(error)))
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
            piece = capture.next(PATIENCE)
            if piece is not None:
                take = self._kept(take, piece.samples)
                call = self._followed(listener, call, call_rate)
                self._tell_if_any(listener.push(piece))
            elif capture.is_gone:
                self._tell(Lost(STOPPED))
                break
        self._tell_if_any(listener.finish())
        self._put_away(take)

    def _take_in(self) -> None:
        """Take in what is told of the deck, until nobody is there any more who tells."""
        with suppress(EOFError):
            while True:
                self._news.put(read_message(self._orders))
        self._over.set()

    def _followed(
        self, listener: Listener, call: DeckCall | None, rate: int | None
    ) -> DeckCall | None:
        """Return what is played, by what has been told of it; None where nothing is."""
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
        """Write what was heard; return the take, None where there is none any more."""
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
        else:
            self._tell(Kept())

    def _tell_if_any(self, overheard: Overheard | None) -> None:
        if overheard is not None:
            self._tell(overheard)

    def _tell(self, message: object) -> None:
        with suppress(OSError):  # Nobody is there any more; the end will come in a moment.
            write_message(self._reports, message)


def main() -> NoReturn:
    """Listen as standard input asks, and report on standard output."""
    run_between_pipes(lambda orders, reports: ListeningProcess(orders, reports).run())


if __name__ == "__main__":
    main()
