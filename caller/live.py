"""Playing a timeline from the speakers, with the current throw on the screen."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Final

import click

from caller.controls import STOP, Control, legend
from caller.display.glance import Glance
from caller.errors import OutsideError
from caller.follow import Follower, View, follow
from caller.telling import INSTEAD_OF_A_DEVICE
from engine.timeline import Timeline
from sounds.devices import SoundLibrary, find_output
from sounds.errors import DeviceError
from sounds.player import LATENCY, Player, playing
from sounds.score import Balance, mix
from sounds.voice import Voice

USUAL_RATE: Final = 48_000


@dataclass(frozen=True, slots=True)
class Speakers:
    """What to play on.

    Parameters
    ----------
    device
        Name of the output; the default one if None.
    latency
        Seconds of sound kept ready.
    delay
        Seconds that pass between the device and the ear, for the screen to wait.
    """

    device: str | None = None
    latency: float = LATENCY
    delay: float = 0.0


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


def play_live(  # noqa: PLR0913, PLR0917 - what is played, on what, and what is shown and pressed
    timeline: Timeline,
    voice: Voice,
    speakers: Speakers,
    balance: Balance,
    library: SoundLibrary,
    keys: Mapping[str, Control],
    cycles: int | None = None,
) -> int:
    """Play a timeline to its end or until it is stopped; return how many objects were thrown.

    Parameters
    ----------
    timeline
        What to play.
    voice
        Who calls; its rate is the one played at.
    speakers
        What to play on.
    balance
        What is heard, and how loud.
    library
        The module sounddevice.
    keys
        What each key asks for.
    cycles
        How many cycles the part has, for the screen; None without end.

    Raises
    ------
    DeviceError
        If there is nothing to play on, or the device stops.
    """
    follower = Follower(timeline, voice.rate)
    source = mix(timeline, voice, voice.rate, balance)
    with playing(
        source, voice.rate, speakers.device, latency=speakers.latency, library=library
    ) as player:

        def ask(control: Control) -> None:
            if control is STOP:
                player.stop()

        frame = Glance(cycles=cycles, legend=legend(keys, [STOP]))
        try:
            follow(player, follower, voice.rate, View(keys, ask, frame, speakers.delay))
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
