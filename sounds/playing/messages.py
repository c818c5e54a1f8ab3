"""What the process that plays and the one that conducts tell each other, apart from commands."""

from dataclasses import dataclass
from typing import TypeAlias

from sounds.playing.passage import Command


@dataclass(frozen=True, slots=True)
class Opening:
    """What is to be opened: the first message to the process that plays.

    Parameters
    ----------
    device
        The name of an output or an unmistakable part of it; the default one if None.
    rate
        Frames a second; what the device likes best if None.
    latency
        Seconds of sound kept ready.
    """

    device: str | None
    rate: int | None
    latency: float


@dataclass(frozen=True, slots=True)
class Opened:
    """The device plays silence, and the deck's clock runs; its rate, in frames a second."""

    rate: int


@dataclass(frozen=True, slots=True)
class Refused:
    """There is no such device, or it cannot be opened so; a sentence that says why."""

    reason: str


@dataclass(frozen=True, slots=True)
class Pulse:
    """The state of the process that plays, told several times a second.

    Parameters
    ----------
    moment
        When this was so, in seconds of `time.monotonic`, which is the same in both processes.
    played
        Frames handed out to the device.
    heard
        A frame that was handed out lately, and the moment when it is heard; None before the
        first.
    gaps
        How often the device ran out of sound.
    over
        Whether all is over, the last silence included.
    fault
        A sentence that says why nothing is played any more; empty as long as all is well.
    """

    moment: float
    played: int
    heard: tuple[int, float] | None = None
    gaps: int = 0
    over: bool = False
    fault: str = ""


ToPlayer: TypeAlias = Opening | Command
