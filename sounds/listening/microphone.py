"""The microphone as the main process sees it, and the messages to and from the one that listens.

The first message is a `ListeningOpening`, answered by `Opened`, with the input's sample rate, or by
`Refused`, as in the process that plays. After that it gets what the deck is `Sent`.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from throwcount.sounds.child_process import child_command
from throwcount.sounds.listening.take import TakeDestination, check_take
from throwcount.sounds.listening.thuds import Thud
from throwcount.sounds.output.deck import Sent
from throwcount.sounds.output.devices import DeviceProcess


@dataclass(frozen=True, slots=True)
class ListeningOpening:
    """What is to be opened: the first message to the process that listens."""

    device: str | None
    """The name of an input or a part of it that no other has; the default input if None."""
    take: TakeDestination | None
    """The file that is to keep all that is heard; None for none."""
    call_rate: int | None = None
    """Sample rate, in Hz, of a deck whose sound is taken out of what is heard; None for none."""


@dataclass(frozen=True, slots=True)
class NewDeck:
    """A new deck has begun, and nothing of the one before is heard any more."""


@dataclass(frozen=True, slots=True)
class DeckHeard:
    """The time of the deck that is heard at a moment."""

    seconds: float
    """On the deck's clock."""
    moment: float
    """On the clock `time.monotonic`."""


@dataclass(frozen=True, slots=True)
class HeardThuds:
    """What was heard; sent several times a second, even if there was nothing."""

    thuds: tuple[Thud, ...]
    """The thuds, in order; their times are moments of `time.monotonic`."""
    until: float
    """The moment up to which every thud has been sent."""
    begun: float
    """The moment of the first frame, as far as it is known."""


@dataclass(frozen=True, slots=True)
class Keeping:
    """A take has been begun."""

    unfinished: Path
    """The file that is written until the take is whole and gets its name."""


@dataclass(frozen=True, slots=True)
class Kept:
    """The take is whole and has its name."""


@dataclass(frozen=True, slots=True)
class NotKept:
    """The take cannot be kept, or not whole; listening goes on."""

    reason: str
    """A sentence."""


@dataclass(frozen=True, slots=True)
class Lost:
    """The input is gone; only `NotKept` and `Kept` may follow."""

    reason: str
    """A sentence."""


CHILD: Final = child_command("throwcount.sounds.listening.microphone_child")

CLOSING_SECONDS: Final = 15.0
"""Time allowed to finish a take; before that a busy machine may take seconds to learn the call."""

QUIET: Final = 15.0
"""Seconds without a message after which the process is given up. It sends several a second, but on
a slow machine none for some seconds while it learns; and no sound depends on it."""

NAME: Final = "The process that listens"
ENDED: Final = f"{NAME} has ended."
HANGS: Final = f"{NAME} does not answer."


class Microphone:
    """An open microphone, to be closed.

    Only the thuds are kept, on disk or in memory, unless a take is asked for. `device`, `take` and
    `call_rate` are those of `ListeningOpening`; with a `call_rate`, `follow` is to be told what the
    deck is sent. `clock` counts seconds and never runs backwards, the same in both processes.
    `command` starts the process.

    Raises
    ------
    DeviceError
        If there is no such input, or it cannot be opened.
    FileError
        If the take cannot be put there.
    """

    def __init__(
        self,
        device: str | None = None,
        take: TakeDestination | None = None,
        call_rate: int | None = None,
        *,
        clock: Callable[[], float] = time.monotonic,
        command: Sequence[str] = CHILD,
    ) -> None:
        if take is not None:
            check_take(take)
        self._clock = clock
        self._thuds: list[Thud] = []
        self._until = self._begun = self._last_message = clock()
        self._remarks: list[str] = []
        self._unfinished: Path | None = None
        self._kept = False
        self._fault = ""
        opening = ListeningOpening(device, take, call_rate)
        self._process = DeviceProcess(command, opening, self._take, NAME, "The sound input")
        self._news = self._process.news
        self.rate = self._process.rate
        """Sample rate of the input, in Hz."""

    def heard_thuds(self) -> HeardThuds:
        """Return the thuds that were heard since the last call."""
        with self._news:
            thuds, self._thuds = tuple(self._thuds), []
            return HeardThuds(thuds, self._until, self._begun)

    def follow(self, message: Sent | DeckHeard | NewDeck) -> None:
        """Send what the deck is sent, and how much of it is heard; never waits."""
        self._process.tell(message)

    def fault(self) -> str:
        """Return why nothing is heard any more, as a sentence; empty if all is well."""
        with self._news:
            if self._fault or self._process.ended:
                return self._fault or ENDED
            return HANGS if self._clock() - self._last_message > QUIET else ""

    def remarks(self) -> list[str]:
        """Return the remarks about the take since the last call, in sentences."""
        with self._news:
            remarks, self._remarks = self._remarks, []
            return remarks

    @property
    def kept(self) -> bool:
        """Whether the take is whole and has its name, once this is closed."""
        with self._news:
            return self._kept

    @property
    def left(self) -> Path | None:
        """The file of a take that could not be finished, once this is closed."""
        with self._news:
            left = self._unfinished
        return left if left is not None and left.is_file() else None

    def close(self) -> None:
        """Stop listening, and let the take be finished."""
        self._process.finish(CLOSING_SECONDS)

    def _take(self, message: object) -> None:
        self._last_message = self._clock()
        match message:
            case HeardThuds(thuds, until, begun):
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
