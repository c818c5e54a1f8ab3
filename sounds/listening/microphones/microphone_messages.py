"""What the process that listens and the one that conducts tell each other.

An answer to the opening is `Opened`, with the rate of the input, or `Refused`, as with the process
that plays; besides these messages the one that listens is told what the deck is `Sent`.
"""

from dataclasses import dataclass
from pathlib import Path

from sounds.listening.onsets.thuds import Thud


@dataclass(frozen=True, slots=True)
class TakeWish:
    """A file that is to hold all that the microphone hears."""

    path: Path
    """Where it is to be; its ending tells the format."""
    overwrite: bool = False
    """Whether a file that is there already is replaced."""


@dataclass(frozen=True, slots=True)
class ListeningOpening:
    """What is to be opened: the first message to the process that listens."""

    device: str | None
    """The name of an input or an unmistakable part of it; the default input if None."""
    take: TakeWish | None
    """The file that is to hold all that is heard; None where nothing is to be kept."""
    call_rate: int | None = None
    """Frames a second of a deck whose sound is taken out of what is heard; None for none."""


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
