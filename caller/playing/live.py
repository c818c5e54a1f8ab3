"""Playing timelines in turn from the speakers, with the current throw on the screen."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace

from caller.console.terminal import tell
from caller.display.glance import Glance
from caller.errors import OutsideError
from caller.playing.controls import STOP, Control, legend
from caller.playing.follow import Follower, View, follow
from caller.rehearsals.rehearsal import Rehearsal
from caller.rehearsals.telling import INSTEAD_OF_A_DEVICE
from engine.timing.sequence import in_turn
from sounds.errors import DeviceError
from sounds.playing.live import LivePlayer
from sounds.playing.passage import End, Passage, Play
from sounds.voices.voice import Voice


@contextmanager
def device_told() -> Iterator[None]:
    """Turn a device that is not there into a sentence that names the way round it."""
    try:
        yield
    except DeviceError as error:
        raise OutsideError(f"{error} {INSTEAD_OF_A_DEVICE}") from error


def play_live(
    rehearsals: Sequence[Rehearsal], player: LivePlayer, voice: Voice, keys: Mapping[str, Control]
) -> None:
    """Play to the end or until it is stopped.

    Parameters
    ----------
    rehearsals
        What to play, one after another.
    player
        What to play on.
    voice
        Who calls, at the player's rate.
    keys
        What each key asks for.

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

    frame = Glance(legend=legend(keys, [STOP]))
    try:
        heard = Hearing(player, _play(rehearsals, player), timeline.seconds)
        follow(heard, follower, View(keys, ask, frame))
    except KeyboardInterrupt:
        player.send(End())
        tell("Stopped.")
    tell_gaps(player)


def _play(rehearsals: Sequence[Rehearsal], player: LivePlayer) -> float:
    """Have everything played, and return when it starts, on the player's clock."""
    passages = [Passage(rehearsal.run, 0.0) for rehearsal in rehearsals]
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
        tell(
            f"Gaps in what was heard: {player.gaps}. The computer was too busy for the device; a "
            "longer --latency helps.",
            errors=True,
        )
