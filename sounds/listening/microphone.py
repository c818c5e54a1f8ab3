"""A microphone that is listened to by a process of its own, as seen from the one that conducts.

What the process that listens and the one that conducts tell each other.

An answer to the opening is `Opened`, with the rate of the input, or `Refused`, as with the process
that plays; besides these messages the one that listens is told what the deck is `Sent`.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Final, Self

from throwcount.sounds.child_process import child_command
from throwcount.sounds.listening.take import TakeWish, check_take
from throwcount.sounds.listening.thuds import Thud
from throwcount.sounds.output.deck import Sent
from throwcount.sounds.output.devices import DeviceProcess


@dataclass(frozen=True, slots=True)
class ListeningOpening:
    """What is to be opened: the first message to the process that listens."""

    device: str | None
    """The name of an input or an unmistakable part of it; the default input if None."""
    take: TakeWish | None
    """The file that is to hold all that is heard; None where nothing is to be kept."""
    call_rate: int | None = None
    """Sample rate, in Hz, of a deck whose sound is taken out of what is heard; None for none."""


@dataclass(frozen=True, slots=True)
class NewDeck:
    """The deck has begun anew: nothing of the one before is heard any more."""


@dataclass(frozen=True, slots=True)
class DeckHeard:
    """So many seconds of the deck's clock are heard at a moment of `time.monotonic`."""

    seconds: float
    moment: float


@dataclass(frozen=True, slots=True)
class Overheard:
    """What was heard, told several times a second, also where there was nothing."""

    thuds: tuple[Thud, ...]
    """The thuds, in order; their times are moments of `time.monotonic`."""
    until: float
    """The moment up to which every thud has been told."""
    begun: float
    """The moment of the first frame, as it is known by now."""


@dataclass(frozen=True, slots=True)
class Keeping:
    """A take has been begun; what it is written to until it is whole and in its place."""

    unfinished: Path


@dataclass(frozen=True, slots=True)
class Kept:
    """The take is in its place."""


@dataclass(frozen=True, slots=True)
class NotKept:
    """The take cannot be kept, or not whole; a sentence that says why. Listening goes on."""

    reason: str


@dataclass(frozen=True, slots=True)
class Lost:
    """The input is gone; a sentence that says so. Only `NotKept` and `Kept` may follow."""

    reason: str


CHILD: Final = child_command("throwcount.sounds.listening.microphone_child")

CLOSING_SECONDS: Final = 5.0
"""Time to put a take in its place."""

QUIET: Final = 15.0
"""Seconds without a word after which the process is given up. It tells several times a second what
it heard, but for some seconds, on a slow machine, when it learns; and nobody's sound depends on
it."""

NAME: Final = "The process that listens"
ENDED: Final = f"{NAME} has ended."
HANGS: Final = f"{NAME} does not answer."


class Microphone:
    """A microphone that is listened to; to be closed, or used as a context.

    Nothing that is heard is kept, on a disk or in memory, but the thuds, unless a take is asked
    for.

    Parameters
    ----------
    device
        The name of an input or an unmistakable part of it; the default one if None.
    take
        The file that is to hold all that is heard; None for none.
    call_rate
        Sample rate, in Hz, of a deck whose sound is taken out of what is heard, before thuds are
        looked for; None for none. What the deck is sent is to be told by `follow`.
    clock
        Seconds that never run backwards, the same in both processes.
    command
        How the process is started.

    Attributes
    ----------
    rate
        Sample rate of the input, in Hz.

    Raises
    ------
    DeviceError
        If there is nothing to listen with, or it cannot be opened so.
    FileError
        If the take cannot be put there.
    """

    def __init__(
        self,
        device: str | None = None,
        take: TakeWish | None = None,
        call_rate: int | None = None,
        *,
        clock: Callable[[], float] = time.monotonic,
        command: Sequence[str] = CHILD,
    ) -> None:
        if take is not None:
            check_take(take)
        self._clock = clock
        self._thuds: list[Thud] = []
        self._until = self._begun = clock()
        self._told = clock()
        self._remarks: list[str] = []
        self._unfinished: Path | None = None
        self._kept = False
        self._fault = ""
        opening = ListeningOpening(device, take, call_rate)
        self._process = DeviceProcess(command, opening, self._take, NAME, "The sound input")
        self._news = self._process.news
        self.rate = self._process.rate

    def overheard(self) -> Overheard:
        """Return the thuds that were heard since this was asked last."""
        with self._news:
            thuds, self._thuds = tuple(self._thuds), []
            return Overheard(thuds, self._until, self._begun)

    def follow(self, told: Sent | DeckHeard | NewDeck) -> None:
        """Tell what the deck is sent, and how much of it is heard; never waits."""
        self._process.tell(told)

    def fault(self) -> str:
        """Return a sentence that says why nothing is heard any more; empty if all is well."""
        with self._news:
            if self._fault or self._process.ended:
                return self._fault or ENDED
            return HANGS if self._clock() - self._told > QUIET else ""

    def remarks(self) -> list[str]:
        """Return sentences about the take that have come up since this was asked last."""
        with self._news:
            told, self._remarks = self._remarks, []
            return told

    @property
    def kept(self) -> bool:
        """Whether the take is in its place, once this is closed."""
        with self._news:
            return self._kept

    @property
    def left(self) -> Path | None:
        """What was written of a take that did not come to its place, once this is closed."""
        with self._news:
            left = self._unfinished
        return left if left is not None and left.is_file() else None

    def close(self) -> None:
        """Stop listening, and let the take be put in its place."""
        self._process.finish(CLOSING_SECONDS)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def _take(self, message: object) -> None:
        self._told = self._clock()
        match message:
            case Overheard(thuds, until, begun):
                self._thuds += thuds
                self._until, self._begun = until, begun
            case Keeping(unfinished):
                self._unfinished = unfinished
            case Kept():
                self._kept = True
            case NotKept(reason):
                self._remarks.append(reason)
            case Lost(reason):
                self._fault = reason
