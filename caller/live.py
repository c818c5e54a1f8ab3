"""Playing a timeline from the speakers, with the current throw on the screen."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

import click

from caller.controls import STOP, Control, legend
from caller.display.glance import Glance
from caller.errors import OutsideError
from caller.follow import Follower, View, follow
from caller.rehearsal import Rehearsal
from caller.telling import INSTEAD_OF_A_DEVICE
from engine.sequence import in_turn
from sounds.errors import DeviceError
from sounds.live import LATENCY, LivePlayer
from sounds.passage import End, Passage, Play
from sounds.score import Balance
from sounds.voice import Voice


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


def open_player(speakers: Speakers, rate: int | None = None) -> LivePlayer:
    """Open a device, at its own rate if none is given.

    Raises
    ------
    DeviceError
        If there is no such device, or it cannot be opened so.
    """
    return LivePlayer(speakers.device, rate, speakers.latency)


def play_live(  # noqa: PLR0913, PLR0917 - what is played, on what, and what is shown and pressed
    rehearsals: Sequence[Rehearsal],
    player: LivePlayer,
    voice: Voice,
    balance: Balance,
    keys: Mapping[str, Control],
    delay: float = 0.0,
    cycles: int | None = None,
) -> int:
    """Play to the end or until it is stopped; return how many objects were thrown.

    Parameters
    ----------
    rehearsals
        What to play, one after another.
    player
        What to play on.
    voice
        Who calls, at the player's rate.
    balance
        What is heard, and how loud.
    keys
        What each key asks for.
    delay
        Seconds that pass between the device and the ear.
    cycles
        How many cycles the part has, for the screen; None without end.

    Raises
    ------
    DeviceError
        If the device stops.
    """
    timeline = in_turn([rehearsal.timeline for rehearsal in rehearsals])
    player.speak_with(voice)
    follower = Follower(timeline, player.rate)

    def ask(control: Control) -> None:
        if control is STOP:
            player.send(End())

    frame = Glance(cycles=cycles, legend=legend(keys, [STOP]))
    try:
        heard = Hearing(player, _play(rehearsals, player, balance), timeline.seconds)
        follow(heard, follower, player.rate, View(keys, ask, frame, delay))
    except KeyboardInterrupt:
        player.send(End())
        click.echo("Stopped.")
    tell_gaps(player)
    return follower.throws


def _play(rehearsals: Sequence[Rehearsal], player: LivePlayer, balance: Balance) -> float:
    """Have everything played, and return when it starts, on the player's clock."""
    passages = [Passage(rehearsal.run, 0.0, balance) for rehearsal in rehearsals]
    words = frozenset().union(*(passage.texts() for passage in passages))
    player.teach(words)
    start = coming = player.soon()
    for passage in passages:
        placed = replace(passage, start=coming, words=words)
        player.send(Play(placed))
        coming = coming if placed.end is None else placed.end
    return start


class Hearing:
    """How far a timeline has been heard; ends the player when all of it has.

    Parameters
    ----------
    player
        What it is played on.
    start
        When it starts, on the player's clock.
    seconds
        Its length; None if it never ends.
    """

    def __init__(self, player: LivePlayer, start: float, seconds: float | None) -> None:
        self._player = player
        self._start = start
        self._end = None if seconds is None else start + seconds

    def heard(self) -> int:
        """Return the frame that is heard now."""
        return round((self._player.heard() - self._start) * self._player.rate)

    def wait(self, seconds: float) -> bool:
        """Wait, and return whether all has been heard."""
        if self._end is not None and self._player.heard() >= self._end:
            self._player.send(End())
            self._end = None
        return self._player.wait(seconds)


def tell_gaps(player: LivePlayer) -> None:
    """Tell how often the device ran out of sound, if it did."""
    if player.gaps:
        click.echo(
            f"Gaps in what was heard: {player.gaps}. The computer was too busy for the device; a "
            "longer --latency helps.",
            err=True,
        )
