"""The current throw on the screen, in step with what is heard, and the keys that are pressed."""

import math
import time
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import islice
from typing import Final, Protocol

from caller.display.glance import Glance, is_shown
from caller.display.screen import Display, display
from caller.keys.reading import Keys, reading_keys
from caller.playing.controls import Control, Presses
from engine.timing.timeline import Beat, Timeline

REFRESH_SECONDS: Final = 0.03
"""The longest time between two looks at what is heard; a beat that is due is not slept through."""

SHORTEST_WAIT: Final = 0.002
"""Seconds; what is heard stands still where a device does, and must not be asked without a rest."""

AHEAD: Final = 24
"""Beats that are known before they are heard."""


class Heard(Protocol):
    """What is being played, and how far it has been heard."""

    def heard(self) -> int:
        """Return the frame that is heard now."""

    def wait(self, seconds: float) -> bool:
        """Wait, and return whether all has been heard."""


class Follower:
    """Walks a timeline in step with the sound, and knows the beats that are heard and that come.

    Parameters
    ----------
    timeline
        What is played.
    rate
        Frames a second.
    ahead
        How many beats it knows beforehand; no others are kept.

    Attributes
    ----------
    beat
        The one that is heard; None before the first.
    """

    def __init__(self, timeline: Timeline, rate: int, ahead: int = AHEAD) -> None:
        self.beat: Beat | None = None
        self._seconds = timeline.seconds
        self._beats = iter(timeline)
        self._rate = rate
        self._coming = deque(islice(self._beats, ahead))
        self._shown: Beat | None = None

    def advance(self, frame: int) -> bool:
        """Go on to the last beat that is heard at `frame`; return whether that is a new one."""
        moved = False
        while self._coming and self._coming[0].time * self._rate <= frame:
            self.beat = self._coming.popleft()
            self._coming.extend(islice(self._beats, 1))
            if is_shown(self.beat):
                self._shown = self.beat
            moved = True
        return moved

    def seconds_to_next(self, frame: int) -> float:
        """Return how long after `frame` the next beat is heard; infinite where none comes."""
        return self._coming[0].time - frame / self._rate if self._coming else math.inf

    def glance(self, frame: int) -> Glance:
        """Return what there is to see at `frame`, to which `advance` has gone on."""
        left = None if self._seconds is None else self._seconds - frame / self._rate
        return Glance(
            beat=self._shown,
            coming=tuple(self._coming),
            seconds_to_throw=self._seconds_to_throw(frame),
            seconds_left=None if left is None else max(0, math.ceil(left)),
        )

    def _seconds_to_throw(self, frame: int) -> int | None:
        if self.beat is not None:
            return None
        first = next((beat.time for beat in self._coming if beat.cycle is not None), None)
        return None if first is None else max(0, math.ceil(first - frame / self._rate))


@dataclass(frozen=True, slots=True)
class View:
    """What is seen and asked for beside the beats.

    Parameters
    ----------
    keys
        What each key asks for.
    ask
        Called with what is asked for.
    frame
        What does not change from beat to beat.
    """

    keys: Mapping[str, Control]
    ask: Callable[[Control], None]
    frame: Glance


def follow(player: Heard, follower: Follower, view: View) -> None:
    """Show each beat while it is heard, and pass on what is asked for, until all has been heard.

    The terminal is taken over for that long, and given back.
    """
    with display() as screen, reading_keys(screen.hide) as keys:
        watch(player, follower, view, screen, keys)


def watch(player: Heard, follower: Follower, view: View, screen: Display, keys: Keys) -> None:
    """Do what `follow` does, with a screen and keys that are there already."""
    presses = Presses(view.keys)
    while not player.wait(0):
        frame = player.heard()
        follower.advance(frame)
        screen.show(_framed(follower.glance(frame), view.frame))
        wait = max(follower.seconds_to_next(frame), SHORTEST_WAIT)
        for key in keys.read(min(wait, REFRESH_SECONDS)):
            asked = presses.asked(key, time.monotonic())
            if asked is not None:
                view.ask(asked)


def _framed(glance: Glance, frame: Glance) -> Glance:
    return replace(glance, cycles=frame.cycles, legend=frame.legend, notice=frame.notice)
