"""What the process that plays and the one that leads send each other, apart from commands.

Nothing heavy is loaded here, so that both can begin to talk as soon as they run.
"""

from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from throwcount.sounds.child_process import Child, child_command, started_child, write_message

if TYPE_CHECKING:
    from collections.abc import Iterator

PLAYER: Final = child_command("throwcount.sounds.output.player_child")
"""The command that starts the process that plays."""


@dataclass(frozen=True, slots=True)
class Opening:
    """The first message to the process that plays: the device to open."""

    device: str | None
    """The name of an output or an unmistakable part of it; the default output if None."""
    rate: int | None
    """Sample rate in Hz; what the device likes best if None."""
    latency: float
    """Seconds of sound kept ready."""
    bare: bool = False
    """Whether to play nothing but silence, and obey nothing but the end."""


@dataclass(frozen=True, slots=True)
class Opened:
    """The device plays silence, and the deck's clock runs."""

    rate: int
    """Sample rate in Hz."""


@dataclass(frozen=True, slots=True)
class Refused:
    """There is no such device, or it cannot be opened so."""

    reason: str
    """A sentence that says why."""
    unknown: bool = False
    """Whether there is no device of that name."""


@dataclass(frozen=True, slots=True)
class PlayerState:
    """The state of the process that plays, sent several times a second once it takes commands."""

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
    begun: int | None = None
    """The frame on which the last run began that was to begin as soon as it could."""


@contextmanager
def early_player(opening: Opening) -> "Iterator[Child | None]":
    """Start the process that plays before anything else is loaded, and end it with the context.

    It loads and opens the device meanwhile. The context's value is for
    `throwcount.sounds.output.player.LivePlayer`; it is None where the process cannot be started,
    which the player then tells.
    """
    child = None
    with suppress(OSError):
        child = started_child(PLAYER)
        if child.stdin is not None:
            write_message(child.stdin, opening)
    try:
        yield child
    finally:
        if child is not None:
            child.kill()
            with suppress(OSError), child:  # closes its pipes, and waits for its end
                pass
