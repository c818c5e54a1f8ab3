"""The process that plays: it opens a device, obeys commands, and reports its state.

It loads what it plays with and nothing else, so that neither the screen nor the log nor a long
computation of the process that leads can hold the sound up. The device is opened first and plays
silence while the rest is loaded. The process ends with the one that leads, however that ends,
since its commands then come to an end.

PortAudio asks for frames from a thread of its own, and the deck makes them there and then: in
Python a store of sound between the two would not help, since both sides wait for the same lock.

PortAudio does not report every time that a device ran out of sound. So the frames handed out are
compared with the time gone by: a device that has had to wait for sound falls behind for good. It
also falls behind for a moment whenever a request comes late, which costs nothing as long as its
store of sound lasts; so what counts is how far behind it is at best within each second. The
clocks of devices differ from the computer's by up to a few parts in ten thousand, which is far
below what is taken for a gap. The first second is no measure: a sound server may take in more
then than it keeps afterwards.
"""

import gc
import importlib
import os
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from typing import IO, TYPE_CHECKING, Any, Final, NoReturn

from throwcount.sounds.child_process import read_message, run_between_pipes, write_message
from throwcount.sounds.errors import DeviceError, UnknownDeviceError
from throwcount.sounds.output.devices import SoundLibrary, close_stream, find_output, sound_library
from throwcount.sounds.output.messages import Opened, Opening, PlayerState, Refused

if TYPE_CHECKING:
    from throwcount.sounds.output.commands import Command
    from throwcount.sounds.output.deck import Deck
    from throwcount.sounds.samples import Samples

WINDOW: Final = 1.0
"""Seconds in which the least that the device is behind counts."""

MISSED: Final = 0.01
"""Seconds by which a device with a gap is further behind than in the second before."""


class GapWatch:
    """Counts gaps by the requests of the device.

    `rate` is the sample rate in Hz.

    Attributes
    ----------
    gaps
        How many there were.
    """

    def __init__(self, rate: int) -> None:
        self.gaps = 0
        self._rate = rate
        self._since: float | None = None
        self._underflows = [False, False]  # within the second before, and within this one
        self._settling = True
        self._before: float | None = None
        self._best: float | None = None

    def note(self, position: int, moment: float, *, underflow: bool) -> None:
        """Take note of a request.

        `position` is the number of frames handed out before it. `moment` is when it came, in
        seconds. `underflow` says whether the device reports that it ran out of sound.
        """
        behind = moment - position / self._rate
        if self._since is None or moment - self._since > WINDOW:
            self._close_window(moment)
        self._best = behind if self._best is None else min(self._best, behind)
        if underflow:
            self.gaps += 1
            self._underflows[1] = True

    def _close_window(self, moment: float) -> None:
        if self._before is not None and self._best is not None:
            missed = self._best - self._before > MISSED
            self.gaps += missed and not any(self._underflows)
        before = None if self._settling else self._best
        self._settling = self._best is None
        self._since, self._before, self._best = moment, before, None
        self._underflows = [self._underflows[1], False]


BLOCK: Final = 256
"""Frames a request. With every core busy, 256 gave no gap, and 64 gave some."""

STILL: Final = 0.6
"""Seconds without a request, over at least `PULSES` pulses, after which a device counts as gone."""

PULSES: Final = 4
STOPPED: Final = "The sound device stopped; it may have been unplugged or switched."
UNMADE: Final = "The sound cannot be made: {!r}."


class Playout:
    """A device that plays silence, and then a deck.

    `rate` is the sample rate in Hz. `clock` counts seconds and never runs backwards.
    """

    def __init__(self, rate: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._watch = GapWatch(rate)
        self._asked = clock()
        self._silent = 0
        self._deck: Deck | IdleDeck | None = None
        self._coming: Deck | IdleDeck | None = None
        self._anchor: tuple[int, float] | None = None
        self._fault = ""
        self._still = 0
        self._last_played = 0
        self._stream: Any = None

    @property
    def position(self) -> int:
        """Frames handed out, silence included."""
        return self._silent if self._deck is None else self._deck.position

    def play(self, deck: "Deck | IdleDeck") -> None:
        """Play `deck` from the next request on; its clock has counted the silence before."""
        self._coming = deck

    def start(
        self, library: SoundLibrary, device: str | None, channels: int, rate: int, latency: float
    ) -> None:
        """Open a device, as `Opening` describes it, and play on it.

        `library` is the module sounddevice. `channels` is 1 or 2; on 1 both sides of the sound
        become one.

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
            raise DeviceError(f"The sound device cannot play at {rate} Hz: {error}.") from error

    def request(self, frames: "Samples", _count: int, times: Any, status: Any) -> None:  # noqa: ANN401 - sounddevice has no types
        """Answer a request of PortAudio for the next frames."""
        self._asked = self._clock()
        delay = times.outputBufferDacTime - times.currentTime
        if delay <= 0.0:  # Some hosts do not tell, above all at first.
            delay = self._stream.latency
        self._anchor = (self.position, self._asked + delay)
        if self._coming is not None:
            self._coming.position = self._silent
            self._deck, self._coming = self._coming, None
        if self._deck is None:
            self._silent += len(frames)
            frames[:] = 0.0
            return
        # A gap in the silence before is none that is heard.
        self._watch.note(self.position, self._asked, underflow=bool(status.output_underflow))
        try:
            block = self._deck.read(len(frames))
        except Exception as error:  # noqa: BLE001 - whatever it is, the other process is to know
            self._fault = UNMADE.format(error)
            frames[:] = 0.0
            return
        frames[:] = block.mean(axis=1, keepdims=True) if frames.shape[1] == 1 else block

    def pulse(self) -> PlayerState:
        """Return how things stand. This is called several times a second."""
        now, played, deck = self._clock(), self.position, self._deck
        self._still = self._still + 1 if played == self._last_played else 0
        self._last_played = played
        over = deck is not None and deck.over
        if not over and not self._fault:
            silent = self._still >= PULSES and now - self._asked > STILL
            if silent or not self._stream.active:
                self._fault = STOPPED
        begun = None if deck is None else deck.begun
        return PlayerState(now, played, self._anchor, self._watch.gaps, over, self._fault, begun)

    def close(self) -> None:
        """Close the device without waiting for one that hangs."""
        close_stream(self._stream)


MOST_ASKED: Final = 1 << 16
"""Frames of a request, at most."""


class IdleDeck:
    """A deck that has nothing to do: what is left of a player without the program's own work."""

    def __init__(self) -> None:
        from numpy import float32, zeros  # noqa: PLC0415 - the device is opened first

        self.position = 0
        self.over = False
        self.begun = None
        self._frames: Samples = zeros((MOST_ASKED, MOST_CHANNELS), float32)

    def read(self, count: int) -> "Samples":
        """Return the next frames."""
        self.position += count
        return self._frames[:count]

    def obey(self, _command: "Command") -> None:
        """End, whatever is commanded."""
        self.over = True

    def look_ahead(self, _seconds: float) -> None:
        """Do nothing."""


PULSE_SECONDS: Final = 0.1
LOOK_AHEAD: Final = 2.0
"""Seconds of sound that are worked out beforehand."""

LAST_SILENCE: Final = 0.1
"""Seconds of silence after the last sound, beyond the latency: closing a device drops what it has
not played yet."""

SWITCH_INTERVAL: Final = 0.0005
"""Seconds after which a busy thread makes way for the one that makes the sound."""

PRIORITY: Final = 5
"""Real-time priority: above ordinary processes, below sound servers."""

USUAL_RATE: Final = 48_000
MOST_CHANNELS: Final = 2


class PlayingProcess:
    """All that the process does.

    Messages come from `commands` and go to `reports`.
    """

    def __init__(self, commands: IO[bytes], reports: IO[bytes]) -> None:
        self._commands = commands
        self._reports = reports
        self._over = threading.Event()

    def run(self) -> None:
        """Play until the end is commanded, or the process that leads has ended."""
        opening = read_message(self._commands)
        assert isinstance(opening, Opening)  # noqa: S101 - the first message is no other
        try:
            library = sound_library()
            output = find_output(library, opening.device)
            rate = opening.rate or round(output["default_samplerate"]) or USUAL_RATE
            playout = Playout(rate)
            channels = min(MOST_CHANNELS, output["max_output_channels"])
            playout.start(library, opening.device, channels, rate, opening.latency)
        except DeviceError as error:
            write_message(self._reports, Refused(str(error), isinstance(error, UnknownDeviceError)))
            return
        write_message(self._reports, Opened(rate))
        deck = IdleDeck() if opening.bare else _loaded_deck(rate, opening.latency)
        playout.play(deck)
        for work in (self._obey, self._look_ahead):
            threading.Thread(target=work, args=(deck,), daemon=True).start()
        self._tell(playout)
        playout.close()

    def _tell(self, playout: Playout) -> None:
        """Tell how things stand, from now on until all is over."""
        while True:
            pulse = playout.pulse()
            with suppress(OSError):  # Nobody reads any more, and the end comes in a moment.
                write_message(self._reports, pulse)
            if pulse.over or pulse.fault or self._over.wait(PULSE_SECONDS):
                return

    def _obey(self, deck: "Deck | IdleDeck") -> None:
        """Obey until the commands come to an end; then fade out, and end."""
        from throwcount.sounds.output.commands import Command, End  # noqa: PLC0415 - the device is opened first

        with suppress(EOFError):
            while True:
                command = read_message(self._commands)
                assert isinstance(command, Command)  # noqa: S101 - nothing else is sent
                try:
                    deck.obey(command)
                except Exception as error:  # noqa: BLE001 - whatever it is, the other process is to know
                    self._fail(deck, UNMADE.format(error))
        deck.obey(End())

    def _fail(self, deck: "Deck | IdleDeck", fault: str) -> None:
        with suppress(OSError):
            write_message(self._reports, PlayerState(time.monotonic(), deck.position, fault=fault))
        self._over.set()

    def _look_ahead(self, deck: "Deck | IdleDeck") -> None:
        while not self._over.wait(PULSE_SECONDS):
            deck.look_ahead(LOOK_AHEAD)


def _loaded_deck(rate: int, latency: float) -> "Deck":
    """Load all that a deck needs while the device plays silence, and return one."""
    sys.setswitchinterval(SWITCH_INTERVAL)
    from throwcount.sounds.output.deck import Deck  # noqa: PLC0415 - the device is opened first
    from throwcount.sounds.voices.stand_ins import ClipBank  # noqa: PLC0415 - the device is opened first

    gc.collect()
    gc.enable()
    gc.freeze()  # What is here stays, and need not be looked through while sound is played.
    return Deck(ClipBank(rate), latency + LAST_SILENCE)


def _hurry() -> None:
    """Run before other processes, where the system lets a user's programs do that for sound.

    On Linux this needs a right that desktops often give to the group `audio`; without it only the
    latency keeps the sound safe.
    """
    if sys.platform == "linux":
        with suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(PRIORITY))


def main() -> NoReturn:
    """Play what standard input asks for, and report on standard output."""
    _hurry()
    gc.disable()  # There is no garbage until all is loaded.
    # OutputStream needs numpy, which is loaded while PortAudio looks for devices.
    threading.Thread(target=importlib.import_module, args=("numpy",), daemon=True).start()
    run_between_pipes(lambda commands, reports: PlayingProcess(commands, reports).run())


if __name__ == "__main__":
    main()
