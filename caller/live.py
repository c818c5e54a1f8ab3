"""Playing a timeline from the speakers, with the current throw on the screen."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

import click

from caller.errors import OutsideError
from caller.follow import Follower, follow
from caller.telling import INSTEAD_OF_A_DEVICE
from engine.timeline import Timeline
from sounds.devices import SoundLibrary, find_output
from sounds.errors import DeviceError
from sounds.player import Player, playing
from sounds.score import Balance, mix
from sounds.voice import Voice

USUAL_RATE: Final = 48_000


@contextmanager
def device_told() -> Iterator[None]:
    """Turn a device that is not there into a sentence that names the way round it."""
    try:
        yield
    except DeviceError as error:
        raise OutsideError(f"{error} {INSTEAD_OF_A_DEVICE}") from error


def live_rate(library: SoundLibrary, device: str | None) -> int:
    """Return the rate that a device, or the default one, likes best, in frames a second.

    Raises
    ------
    DeviceError
        If there is no such device.
    """
    return round(find_output(library, device)["default_samplerate"]) or USUAL_RATE


def play_live(
    timeline: Timeline, voice: Voice, device: str | None, balance: Balance, library: SoundLibrary
) -> int:
    """Play a timeline to its end or until Ctrl-C; return how many objects were thrown.

    Parameters
    ----------
    timeline
        What to play.
    voice
        Who calls; its rate is the one played at.
    device
        Name of the output; the default one if None.
    balance
        What is heard, and how loud.
    library
        The module sounddevice.

    Raises
    ------
    DeviceError
        If there is nothing to play on, or the device stops.
    """
    follower = Follower(timeline, voice.rate)
    source = mix(timeline, voice, voice.rate, balance)
    with playing(source, voice.rate, device, library=library) as player:
        try:
            follow(player, follower)
        except KeyboardInterrupt:
            click.echo("Stopped.")
        _tell_gaps(player)
    return follower.throws


def _tell_gaps(player: Player) -> None:
    if player.underflows:
        click.echo(
            f"The device ran out of sound {player.underflows} times: the computer was busy, and "
            "what was heard had gaps.",
            err=True,
        )
