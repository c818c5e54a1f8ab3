"""Tapping along: music plays, and each key that is pressed is a beat."""

import math
from dataclasses import dataclass, field
from typing import Final, Protocol

import numpy as np

from caller.console.terminal import counted
from caller.display.glance import Glance
from caller.display.screen import Display, display
from caller.keys.names import RESUMED
from caller.keys.reading import Keys, reading_keys
from engine.patterns.jugglable import read
from engine.timing.run import Part, Run
from engine.timing.tempo import steady
from sounds.music.music import Music, Track
from sounds.placing.score import Balance
from sounds.playing.passage import Command, End, Play, ScheduledRun

DONE: Final = ("q", "escape")
UNDO: Final = "backspace"
LEGEND: Final = (("any key", "a beat"), (UNDO, "take the last one back"), (DONE[0], "done"))

HELD_DOWN: Final = 0.12
"""Seconds in which another press is the same key held down."""

REFRESH: Final = 0.1
"""Seconds between two looks at the clock; keys are noticed at once."""

TOLD: Final = 8
"""Taps whose tempo is shown."""

NOTICE: Final = "Tap a key, always the same one, on each beat."
SUSPENDED: Final = "The program was suspended: what was tapped before is dropped. Begin again."


class Player(Protocol):
    """What plays the music, such as `sounds.playing.live.LivePlayer`."""

    def send(self, command: Command) -> None:
        """Send a command."""

    def soon(self) -> float:
        """Return when what is sent now can start, on the player's clock."""

    def heard(self) -> float:
        """Return the time on the player's clock that is heard now."""

    def wait(self, seconds: float) -> bool:
        """Wait, and return whether all is over; raises where nothing is played any more."""


@dataclass(slots=True)
class Taps:
    """The taps so far, in seconds of the music."""

    times: list[float] = field(default_factory=list)

    def add(self, time: float) -> None:
        """Take in a tap, unless its key is just held down."""
        if not self.times or time - self.times[-1] >= HELD_DOWN:
            self.times.append(time)

    @property
    def tempo(self) -> float | None:
        """The tempo of the last few, in beats a minute; None before there are three."""
        intervals = np.diff(self.times[-TOLD:])
        return None if len(intervals) < 2 else float(60.0 / np.median(intervals))  # noqa: PLR2004 - one interval is no tempo


def scheduled_run(music: Music, start: float) -> ScheduledRun:
    """Return music alone, without a click or a word.

    The music is decoded to the player's rate. `start` is when its first sample is, on the player's
    clock.
    """
    silent = Run((Part(read("0"), None),), steady(60.0), ready=0.0, count_in=0, say="nothing")
    return ScheduledRun(silent, start, Balance(clicks="none"), track=Track(music, 0.0))


def tap(music: Music, player: Player, delay: float = 0.0) -> list[float]:
    """Play music, and return when keys were pressed, until it is over or `DONE` is pressed.

    The terminal is taken over for that long. Times are those that were heard when a key was
    pressed, by what the device says of its delay.

    The music is decoded to the player's rate. `player` is what plays it; it ends with it. `delay`
    is the seconds that pass between the device and the ear.

    Returns
    -------
    list of float
        Seconds of the music, in order.

    Raises
    ------
    DeviceError
        If nothing is played any more.
    """
    with display() as screen, reading_keys(screen.hide) as keys:
        return tapped(music, player, keys, screen, delay)


def tapped(
    music: Music, player: Player, keys: Keys, screen: Display, delay: float = 0.0
) -> list[float]:
    """Do what `tap` does, with keys and a screen that are there already."""
    start = player.soon()
    player.send(Play(scheduled_run(music, start)))
    taps, notice = Taps(), ""

    def now() -> float:
        return player.heard() - delay - start

    while now() < music.seconds and not player.wait(0.0):
        screen.show(_glance(taps, notice, music.seconds - now()))
        for key in keys.read(REFRESH):
            if key in DONE:
                player.send(End())
                return taps.times
            notice = _pressed(key, now(), taps)
    player.send(End())
    return taps.times


def _pressed(key: str, time: float, taps: Taps) -> str:
    """Take in a key; return what is to be said of it, if anything."""
    if key == RESUMED:
        taps.times.clear()
        return SUSPENDED
    if key == UNDO:
        del taps.times[-1:]
    elif time >= 0.0:
        taps.add(time)
    return ""


def _glance(taps: Taps, notice: str, left: float) -> Glance:
    tempo = taps.tempo
    place = counted(len(taps.times), "beat") + (f", {tempo:.0f} a minute" if tempo else "")
    return Glance(
        large=str(len(taps.times)),
        place=place,
        seconds_left=max(0, math.ceil(left)),
        notice=notice or ("" if taps.times else NOTICE),
        legend=LEGEND,
    )
