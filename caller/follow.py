"""The current throw on the screen, in step with what is heard."""

from typing import Final, Protocol

from rich.live import Live
from rich.text import Text

from caller.terminal import console
from engine.timeline import Beat, ByHand, Timeline

REFRESH_SECONDS: Final = 0.03


class Heard(Protocol):
    """What is being played, and how far it has been heard."""

    def heard(self) -> int:
        """Return the frame that is heard now."""

    def wait(self, seconds: float) -> bool:
        """Wait, and return whether all has been heard."""


class Follower:
    """Walks a timeline in step with the sound, and knows the beat that is heard.

    Parameters
    ----------
    timeline
        What is played.
    rate
        Frames a second.
    """

    def __init__(self, timeline: Timeline, rate: int) -> None:
        self._beats = iter(timeline)
        self._rate = rate
        self._coming = next(self._beats, None)
        self.beat: Beat | None = None
        self.throws = 0

    def advance(self, frame: int) -> bool:
        """Go on to the last beat that is heard at `frame`; return whether that is a new one."""
        moved = False
        while self._coming is not None and self._coming.time * self._rate <= frame:
            self.beat, self._coming = self._coming, next(self._beats, None)
            self.throws += len(self.beat.objects.right) + len(self.beat.objects.left)
            moved = True
        return moved


def follow(player: Heard, follower: Follower) -> None:
    """Show each beat while it is heard, until all has been heard; nothing where no one can see."""
    screen = console()
    if not screen.is_terminal:
        while not player.wait(REFRESH_SECONDS):
            follower.advance(player.heard())
        return
    with Live(console=screen, auto_refresh=False, transient=True) as live:
        while not player.wait(REFRESH_SECONDS):
            if follower.advance(player.heard()) and follower.beat is not None:
                live.update(Text(beat_line(follower.beat), no_wrap=True), refresh=True)


def beat_line(beat: Beat) -> str:
    """Return a beat as one line: what each hand throws, where in the pattern, and the tempo."""
    tempo = f"{beat.tempo:.0f} a minute"
    if beat.cycle is None or beat.cycle_beat is None:
        return f"{beat.part:<32}{tempo}"
    where = f"cycle {beat.cycle + 1}, beat {beat.cycle_beat + 1}"
    return f"{_hands(beat.throws):<32}{tempo:<16}{where}"


def _hands(throws: ByHand) -> str:
    named = (("left", throws.left), ("right", throws.right))
    return "  ".join(f"{hand} {_at_once(thrown)}" for hand, thrown in named if thrown)


def _at_once(thrown: tuple[str, ...]) -> str:
    return thrown[0] if len(thrown) == 1 else f"[{''.join(thrown)}]"
