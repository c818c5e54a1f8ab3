"""The process that plays, as seen from the one that conducts."""

import time
from collections.abc import Callable, Sequence
from typing import Final

from sounds.child_process import child_command
from sounds.playing.device_process import DeviceProcess
from sounds.playing.messages import Opening, PlayerState, ToPlayer
from sounds.playing.passage import End

CHILD: Final = child_command("sounds.playing.live_child")

SENDING_SECONDS: Final = 0.1
"""How long a message may take to be sent."""

QUIET: Final = 0.6
"""Seconds without a pulse after which the process is given up."""

LONGEST_LOOK: Final = 0.2
"""Seconds of quiet that one look can tell of: more than that, and it may be the process that
looks which has been held up, and all pulses are still to be read."""

NAME: Final = "The process that plays the sound"
ENDED: Final = f"{NAME} has ended."
HANGS: Final = f"{NAME} does not answer."


class SoundProcess:
    """A process that plays on one device.

    `clock` counts seconds and never runs backwards, the same in both processes.

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
        self._pulse: PlayerState | None = None
        self._quiet = 0.0
        self._looked = clock()
        self._process = DeviceProcess(command, opening, self._take, NAME, "The sound device")
        self.rate = self._process.rate

    @property
    def pulse(self) -> PlayerState | None:
        """What was told last; None if nothing was yet."""
        return self._pulse

    def send(self, message: ToPlayer) -> None:
        """Send a message, and see it off; but do not wait for a process that takes none.

        Otherwise this thread, going on with something else, might long keep it from being sent.
        """
        process = self._process
        others_wait = not process.all_sent
        process.tell(message)
        if not others_wait:
            with process.news:
                process.news.wait_for(lambda: process.all_sent, SENDING_SECONDS)

    def wait(self, seconds: float) -> None:
        """Wait for so many seconds, or until the process has ended."""
        with self._process.news:
            self._process.news.wait_for(lambda: self._process.ended, seconds)

    def fault(self) -> str:
        """Return a sentence that says why nothing is played any more; empty if all is well.

        To be called several times a second, since a quiet process is noticed by looking.
        """
        now = self._clock()
        pulse = self._pulse
        if pulse is not None and (pulse.fault or pulse.over):
            return pulse.fault
        if self._process.ended:
            return ENDED
        self._quiet += min(now - self._looked, LONGEST_LOOK)
        self._looked = now
        return HANGS if self._quiet > QUIET else ""

    def close(self, patience: float) -> None:
        """End it: with a fade, if it does that within `patience` seconds."""
        if patience > 0.0 and not self._process.ended:
            self.send(End())
            self.wait(patience)
        self._process.finish(0.0)

    def _take(self, message: object) -> None:
        self._quiet = 0.0
        if isinstance(message, PlayerState):
            self._pulse = message
