"""Live sound, as seen from the process that leads: a deck in a process of its own, on a device."""

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Final, Self

from throwcount.sounds.child_process import Child
from throwcount.sounds.errors import DeviceError
from throwcount.sounds.output.commands import (
    Begin,
    Command,
    Continue,
    End,
    Learn,
    Play,
    Say,
    ScheduledRun,
)
from throwcount.sounds.output.deck import Sent
from throwcount.sounds.output.devices import OPENING_SECONDS, DeviceProcess
from throwcount.sounds.output.messages import PLAYER, Opening, PlayerState
from throwcount.sounds.voices.voice import Voice

SENDING_SECONDS: Final = 0.1
"""How long the sending of a command is waited for."""

QUIET: Final = 0.6
"""Seconds without a message after which the process is given up."""

LONGEST_LOOK: Final = 0.2
"""Seconds of quiet that count between two looks: if it was longer, perhaps the process that looks
was held up, and the messages are still to be read."""

NAME: Final = "The process that plays the sound"
ENDED: Final = f"{NAME} has ended."
HANGS: Final = f"{NAME} does not answer."


class SoundProcess(DeviceProcess):
    """A process that plays on one device; errors as those of `DeviceProcess`.

    `clock` counts seconds and never runs backwards, the same in both processes. `started` is the
    process, if it was started and sent `opening` already.

    Attributes
    ----------
    pulse
        The last state that was sent; None before the first.
    """

    def __init__(
        self, opening: Opening, clock: Callable[[], float], started: Child | None = None
    ) -> None:
        self.pulse: PlayerState | None = None
        self._clock = clock
        self._quiet = 0.0
        self._looked = clock()
        super().__init__(started or PLAYER, opening, self._hear, NAME, "The sound device")

    def send(self, command: Command) -> None:
        """Send a command, and wait a moment until it is sent, unless others still wait.

        Otherwise this thread would go on, and might keep the thread that sends from its work.
        """
        others_wait = not self.all_sent
        self.tell(command)
        if not others_wait:
            with self.news:
                self.news.wait_for(lambda: self.all_sent, SENDING_SECONDS)

    def wait(
        self, seconds: float, until: Callable[[PlayerState], bool] = lambda _pulse: False
    ) -> None:
        """Wait for `seconds`, but only until the process has ended or sent what is waited for."""
        with self.news:
            self.news.wait_for(
                lambda: self.ended or (self.pulse is not None and until(self.pulse)), seconds
            )

    def wait_ready(self) -> None:
        """Wait until the process, which has opened its device, takes commands."""
        self.wait(OPENING_SECONDS, lambda _pulse: True)

    def fault(self) -> str:
        """Return a sentence that says why nothing is played any more; empty if all is well.

        This has to be called several times a second: looking is how a quiet process is noticed.
        """
        now, pulse = self._clock(), self.pulse
        if pulse is not None and (pulse.fault or pulse.over):
            return pulse.fault
        if self.ended:
            return ENDED
        self._quiet += min(now - self._looked, LONGEST_LOOK)
        self._looked = now
        return HANGS if self._quiet > QUIET else ""

    def close(self, patience: float) -> None:
        """End the process, with a fade if that takes at most `patience` seconds."""
        if patience > 0.0 and not self.ended:
            self.send(End())
            self.wait(patience)
        self.finish(0.0)

    def _hear(self, message: object) -> None:
        self._quiet = 0.0
        if isinstance(message, PlayerState):
            self.pulse = message


LATENCY: Final = 0.05
"""Seconds of sound kept ready: no gap was measured at this, with every core busy."""

SOON: Final = 0.3
"""Seconds from sending a run until its start: time to send it, and to make its first samples."""

ENDING: Final = 1.0
"""Seconds beyond twice the latency that a fade and the last silence may take."""

RETRY: Final = 0.25
"""Seconds between two tries to open a device."""


class LivePlayer:
    """Plays scheduled runs on a device; to be closed, or used as a context.

    `device`, `rate` and `latency` are as in `Opening`; a latency of 0.03 to 0.2 s is usual, and
    more is safer on a busy machine. `clock` counts seconds and never runs backwards, the same in
    all processes. `started` is the process that plays, if it was started and sent the same
    `Opening` already. `bare` is as there.

    Attributes
    ----------
    rate
        Sample rate in Hz, for which a voice for this player is made.
    on_command
        Called with every command that is sent, and when; None for nobody.

    Raises
    ------
    DeviceError
        If there is nothing to play on, or it cannot be opened so.
    """

    def __init__(  # noqa: PLR0913 - a device, how it is opened, and two for special cases
        self,
        device: str | None = None,
        rate: int | None = None,
        latency: float = LATENCY,
        *,
        clock: Callable[[], float] = time.monotonic,
        started: Child | None = None,
        bare: bool = False,
    ) -> None:
        self._bare = bare
        self._device = device
        self._latency = latency
        self._clock = clock
        self._voice: Voice | None = None
        self._taught: set[str] = set()
        self._gaps_before = 0
        self._heard = 0.0
        self.on_command: Callable[[Sent], None] | None = None
        self._process = self._opened(device, rate, started)
        self.rate = self._process.rate

    def speak_with(self, voice: Voice) -> None:
        """Let `voice`, which is made for the player's rate, say all that is played from now on."""
        self._voice = voice
        self._taught = set()

    def send(self, command: Command) -> None:
        """Send a command, which takes effect within a few hundredths of a second.

        Clips of all that may be said are sent first. `wait` and `fault` report a fault.

        Raises
        ------
        EngineError
            If a run cannot be scheduled.
        """
        if isinstance(command, Play | Continue):
            self.teach(command.scheduled.texts())
        elif isinstance(command, Say):
            self.teach(frozenset({command.text}))
        self._send(command)

    def begin(self, scheduled: ScheduledRun) -> ScheduledRun:
        """Play a run as soon as possible, and return it with its start.

        It begins a little later if there is an `on_command`, which then gets it beforehand.

        Raises
        ------
        EngineError
            If the run cannot be scheduled.
        """
        self.teach(scheduled.texts())
        if self.on_command is not None:
            soon = replace(scheduled, start=self.soon())
            self._send(Play(soon))
            return soon
        before = self._begun
        self._process.send(Begin(scheduled))
        self._process.wait_ready()
        while self._begun == before and not (self.over or self.fault()):
            self._process.wait(LONGEST_LOOK, lambda pulse: pulse.begun != before)
        # If the run has not begun there is a fault, which the next look tells.
        frame = round(self.played() * self.rate) if self._begun == before else self._begun
        return replace(scheduled, start=(frame or 0) / self.rate)

    def teach(self, texts: frozenset[str]) -> None:
        """Send the clips of those of `texts` that have not been sent yet."""
        new = sorted(texts - self._taught, key=lambda text: (-len(text), text))
        if self._voice is None or not new:
            return
        self._voice.prepare(new)
        # One by one, as a long message holds the sound up; the longest first, as it takes longest.
        for text in new:
            self._send(Learn({text: tuple(self._voice.clips(text))}))
        self._taught.update(new)

    def played(self) -> float:
        """Return how far the deck's clock has come, in seconds; it stands still with the sound."""
        pulse = self._process.pulse
        if pulse is None:
            return 0.0
        return pulse.played / self.rate + min(self._clock() - pulse.moment, QUIET)

    def soon(self) -> float:
        """Return the time on the deck's clock at which what is sent now can start.

        Waits until the process takes commands.
        """
        self._process.wait_ready()
        return self.played() + SOON

    def heard(self) -> float:
        """Return the time on the deck's clock that is heard now, as the device tells it."""
        pulse = self._process.pulse
        if pulse is not None and pulse.heard is not None:
            frame, moment = pulse.heard
            now = frame / self.rate + self._clock() - moment
            self._heard = max(self._heard, min(now, self.played()))
        return self._heard

    @property
    def anchor(self) -> tuple[float, float] | None:
        """A time of the deck's clock, in seconds, and the moment at which it is heard.

        The device tells it again and again; None before the first time.
        """
        pulse = self._process.pulse
        if pulse is None or pulse.heard is None:
            return None
        frame, moment = pulse.heard
        return frame / self.rate, moment

    @property
    def _begun(self) -> int | None:
        pulse = self._process.pulse
        return None if pulse is None else pulse.begun

    @property
    def gaps(self) -> int:
        """How often the device ran out of sound."""
        pulse = self._process.pulse
        return self._gaps_before + (0 if pulse is None else pulse.gaps)

    @property
    def over(self) -> bool:
        """Whether the deck has ended, and all has been heard."""
        pulse = self._process.pulse
        return pulse is not None and pulse.over

    def fault(self) -> str:
        """Return a sentence that says why nothing is played any more; empty if all is well.

        A device or a process that stops is noticed within a second if this is called several times
        a second; `wait` calls it.
        """
        return self._process.fault()

    def wait(self, seconds: float) -> bool:
        """Wait for at most `seconds`, and return whether all is over.

        Raises
        ------
        DeviceError
            If nothing is played any more.
        """
        self._process.wait(seconds)
        fault = self.fault()
        if fault:
            raise DeviceError(fault)
        return self.over

    def reopen(self, patience: float = 0.0) -> None:
        """Open again on the same device or else the default one, at the same rate.

        The clock begins at 0, and nothing is played until it is sent. Opening is tried again for
        `patience` seconds, in which a sound server may be restarted.

        Raises
        ------
        DeviceError
            If there is nothing to play on.
        """
        self._gaps_before = self.gaps
        self._process.close(0.0)
        self._taught = set()
        self._heard = 0.0
        deadline = self._clock() + patience
        while True:
            try:
                self._process = self._reopened()
            except DeviceError:
                if self._clock() > deadline:
                    raise
                time.sleep(RETRY)
            else:
                return

    def close(self) -> None:
        """End, with a fade if there is still sound, without waiting for what hangs."""
        patience = 0.0 if self.fault() else 2 * self._latency + ENDING
        self._process.close(patience)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def _send(self, command: Command) -> None:
        if self.on_command is not None:
            self.on_command(Sent(self.played(), command))
        self._process.send(command)

    def _opened(
        self, device: str | None, rate: int | None, started: Child | None = None
    ) -> SoundProcess:
        return SoundProcess(Opening(device, rate, self._latency, self._bare), self._clock, started)

    def _reopened(self) -> SoundProcess:
        try:
            return self._opened(self._device, self.rate)
        except DeviceError:
            if self._device is None:
                raise
            return self._opened(None, self.rate)
