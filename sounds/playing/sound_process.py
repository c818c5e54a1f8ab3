"""The process that plays, as seen from the one that conducts."""

import queue
import subprocess
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Final

from sounds.child_process import child_command, started_child
from sounds.errors import DeviceError
from sounds.playing.messages import (
    Opened,
    Opening,
    Pulse,
    Refused,
    ToPlayer,
    read_message,
    write_message,
)
from sounds.playing.passage import End

CHILD: Final = child_command("sounds.playing.live_child")

OPENING_SECONDS: Final = 15.0
"""Time to start and to open a device; takes half a second as a rule."""

SENDING_SECONDS: Final = 0.1
"""How long a message may take to be sent."""

KILLING_SECONDS: Final = 1.0

QUIET: Final = 0.6
"""Seconds without a pulse after which the process is given up."""

LONGEST_LOOK: Final = 0.2
"""Seconds of quiet that one look can tell of: more than that, and it may be the process that
looks which has been held up, and all pulses are still to be read."""

ENDED: Final = "The process that plays the sound has ended."
HANGS: Final = "The process that plays the sound does not answer."
NO_ANSWER: Final = "The sound device could not be opened: it does not answer."


class SoundProcess:
    """A process that plays on one device.

    Parameters
    ----------
    opening
        The device, its rate and its latency.
    clock
        Seconds that never run backwards, the same in both processes.
    command
        How it is started.

    Attributes
    ----------
    rate
        Frames a second.

    Raises
    ------
    DeviceError
        If there is nothing to play on, or it cannot be opened so.
    """

    def __init__(
        self,
        opening: Opening,
        *,
        clock: Callable[[], float] = time.monotonic,
        command: Sequence[str] = CHILD,
    ) -> None:
        self._clock = clock
        self._process = _started(command)
        self._orders: queue.SimpleQueue[ToPlayer | None] = queue.SimpleQueue()
        self._queued = 0
        self._sent = 0
        self._news = threading.Condition()
        self._answer: Opened | Refused | None = None
        self._pulse: Pulse | None = None
        self._ended = False
        self._quiet = 0.0
        self._looked = clock()
        for work in (self._write, self._read):
            threading.Thread(target=work, daemon=True).start()
        self.send(opening)
        self.rate = self._opened()

    @property
    def pulse(self) -> Pulse | None:
        """What was told last; None if nothing was yet."""
        return self._pulse

    def send(self, message: ToPlayer) -> None:
        """Send a message, and see it off; but do not wait for a process that takes none.

        Otherwise this thread, going on with something else, might long keep it from being sent.
        """
        others_wait = self._sent < self._queued
        self._queued += 1
        self._orders.put(message)
        if not others_wait:
            with self._news:
                self._news.wait_for(lambda: self._sent == self._queued, SENDING_SECONDS)

    def wait(self, seconds: float) -> None:
        """Wait for so many seconds, or until the process has ended."""
        with self._news:
            self._news.wait_for(lambda: self._ended, seconds)

    def fault(self) -> str:
        """Return a sentence that says why nothing is played any more; empty if all is well.

        To be called several times a second, since a quiet process is noticed by looking.
        """
        now = self._clock()
        pulse = self._pulse
        if pulse is not None and (pulse.fault or pulse.over):
            return pulse.fault
        if self._ended:
            return ENDED
        self._quiet += min(now - self._looked, LONGEST_LOOK)
        self._looked = now
        return HANGS if self._quiet > QUIET else ""

    def close(self, patience: float) -> None:
        """End it: with a fade, if it does that within `patience` seconds."""
        if patience > 0.0 and not self._ended:
            self.send(End())
            self.wait(patience)
        self._orders.put(None)
        self._process.kill()
        with suppress(subprocess.TimeoutExpired):
            self._process.wait(KILLING_SECONDS)

    def _opened(self) -> int:
        with self._news:
            self._news.wait_for(lambda: self._answer is not None or self._ended, OPENING_SECONDS)
        if isinstance(self._answer, Opened):
            return self._answer.rate
        self.close(0.0)
        raise DeviceError(NO_ANSWER if self._answer is None else self._answer.reason)

    def _write(self) -> None:
        stream = self._process.stdin
        assert stream is not None  # noqa: S101 - it was started with a pipe
        with suppress(OSError):
            while (message := self._orders.get()) is not None:
                write_message(stream, message)
                with self._news:
                    self._sent += 1
                    self._news.notify_all()
        with suppress(OSError):
            stream.close()

    def _read(self) -> None:
        stream = self._process.stdout
        assert stream is not None  # noqa: S101 - it was started with a pipe
        with suppress(EOFError), stream:
            while True:
                message = read_message(stream)
                with self._news:
                    self._take(message)
                    self._news.notify_all()
        with self._news:
            self._ended = True
            self._news.notify_all()

    def _take(self, message: object) -> None:
        self._quiet = 0.0
        if isinstance(message, Pulse):
            self._pulse = message
        elif isinstance(message, Opened | Refused):
            self._answer = message


def _started(command: Sequence[str]) -> "subprocess.Popen[bytes]":
    try:
        return started_child(command)
    except OSError as error:
        raise DeviceError(
            f"The process that plays the sound cannot be started: {error}."
        ) from error
