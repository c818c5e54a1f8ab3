"""What is told of the device that plays."""

from collections.abc import Iterator
from contextlib import contextmanager

from caller.console.terminal import tell
from caller.errors import OutsideError
from caller.rehearsals.telling import INSTEAD_OF_A_DEVICE
from sounds.errors import DeviceError
from sounds.playing.live import LivePlayer


@contextmanager
def device_told() -> Iterator[None]:
    """Turn a device that is not there into a sentence that names the way round it."""
    try:
        yield
    except DeviceError as error:
        raise OutsideError(f"{error} {INSTEAD_OF_A_DEVICE}") from error


def tell_gaps(player: LivePlayer) -> None:
    """Tell how often the device ran out of sound, if it did."""
    if player.gaps:
        tell(
            f"Gaps in what was heard: {player.gaps}. The computer was too busy for the device; a "
            "longer --latency helps.",
            errors=True,
        )
