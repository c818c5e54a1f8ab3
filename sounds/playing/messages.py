"""What the process that plays and the one that conducts tell each other, apart from commands."""

from dataclasses import dataclass
from typing import TypeAlias

from sounds.playing.passage import Command


@dataclass(frozen=True, slots=True)
class Opening:
    """What is to be opened: the first message to the process that plays."""

    device: str | None
    """The name of an output or an unmistakable part of it; the default output if None."""
    rate: int | None
    """Frames a second; what the device likes best if None."""
    latency: float
    """Seconds of sound kept ready."""


@dataclass(frozen=True, slots=True)
class Opened:
    """The device plays silence, and the deck's clock runs; its rate, in frames a second."""

    rate: int


@dataclass(frozen=True, slots=True)
class Refused:
    """There is no such device, or it cannot be opened so; a sentence that says why."""

    reason: str


@dataclass(frozen=True, slots=True)
class PlayerState:
    """The state of the process that plays, told several times a second."""

    moment: float
    """When this was so, in seconds of `time.monotonic`, which is the same in both processes."""
    played: int
    """Frames handed out to the device."""
    heard: tuple[int, float] | None = None
    """A frame that was handed out lately, and the moment when it is heard; None before
    the first."""
    gaps: int = 0
    """How often the device ran out of sound."""
    over: bool = False
    """Whether all is over, the last silence included."""
    fault: str = ""
    """A sentence that says why nothing is played any more; empty as long as all is well."""


ToPlayer: TypeAlias = Opening | Command
