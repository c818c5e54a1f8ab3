"""What is going on in a practice, as plain data."""

from dataclasses import dataclass
from typing import TypeAlias

from sounds.playing.passage import ScheduledRun


@dataclass(frozen=True, slots=True)
class Playing:
    """A set that is being played, from a beat on where it began in its middle."""

    scheduled: ScheduledRun
    since: int | None = None


@dataclass(frozen=True, slots=True)
class Resting:
    """A rest, until a time of the deck's clock."""

    until: float


@dataclass(frozen=True, slots=True)
class Paused:
    """A set that waits to go on with a beat, or a rest with some seconds left."""

    scheduled: ScheduledRun | None = None
    beat: int = 0
    left: float = 0.0


@dataclass(frozen=True, slots=True)
class Closing:
    """What is said at the end of the practice, until a time of the deck's clock."""

    until: float


@dataclass(frozen=True, slots=True)
class Ended:
    """All is over when what is left of the sound has been heard."""


Situation: TypeAlias = Playing | Resting | Paused | Closing | Ended
