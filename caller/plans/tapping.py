"""Tapping along: music plays, and each key that is pressed is a beat.

Tapped beats as the music has them: taps put on the onsets that they belong to.

A person taps early, and not twice the same. Where something begins to sound near the taps, again
and again, the beats are there; elsewhere they stay as they were tapped.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, Protocol

import numpy as np

from throwcount.caller.plans.taps import SteadyTaps, TapsError, listed_taps, steady_taps, wanders
from throwcount.caller.terminal.controls import RESUMED
from throwcount.caller.terminal.glance import Glance
from throwcount.caller.terminal.printing import counted
from throwcount.caller.terminal.screen import Display, Keys, display, reading_keys
from throwcount.engine.patterns.rules import read
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.sounds.mixing.music_bed import Music, Track
from throwcount.sounds.mixing.score import Balance
from throwcount.sounds.music.estimate import (
    LONGEST_SECONDS,
    Settled,
    settled_listed,
    settled_steady,
)
from throwcount.sounds.music.pulse import Onsets, onsets_of
from throwcount.sounds.output.commands import Command, End, Play, ScheduledRun

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
    """What plays the music, such as `throwcount.sounds.output.player.LivePlayer`."""

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


EARLY: Final = (
    "People tap some 20 to 80 ms early (Repp, Psychon. Bull. Rev. 12 (2005) 969-992), and no "
    "onsets of the music were found to put the beats on: if the count comes before the music, "
    "make the first beat that much later."
)
WANDERING: Final = 0.02
"""Seconds by which the music's own beats leave an even one where its tempo is held to move."""

LISTED: Final = "The tempo moves, or the taps are uneven: every beat is listed as it was tapped."


@dataclass(frozen=True, slots=True)
class TappedBeats:
    """Beats that were tapped."""

    tempo: float | None
    """Beats a minute; None where the taps keep to no tempo."""
    beats: tuple[float, ...]
    """The beats, in seconds of the music, in order."""
    sentences: tuple[str, ...]
    """What a person should know of them."""


def tapped_beats(taps: Sequence[float], music: Music) -> TappedBeats:
    """Return the beats that taps on music were meant for.

    `taps` are in seconds of the music, in order. `music` is what was heard. Onsets are looked for
    in up to `LONGEST_SECONDS` of it.

    Raises
    ------
    TapsError
        If they are too few to tell of beats.
    """
    listed, even = listed_taps(taps), _even(taps)
    onsets = onsets_of(music) if music.seconds <= LONGEST_SECONDS else None
    own = None if onsets is None else settled_listed(np.array(listed.beats), onsets)
    if even is not None and (own is None or not wanders(np.array(own.beats), WANDERING)):
        return _steady(even, onsets)
    told = (LISTED, *listed.sentences)
    if own is None:
        return TappedBeats(None, listed.beats, (*told, EARLY))
    return TappedBeats(None, _from_zero(own.beats), (*told, _settled_told(own)))


def _even(taps: Sequence[float]) -> SteadyTaps | None:
    """Return the one tempo of the taps; None where there is none."""
    try:
        even = steady_taps(taps)
    except TapsError:
        return None
    return None if even.moves else even


def _steady(even: SteadyTaps, onsets: Onsets | None) -> TappedBeats:
    settled = None
    if onsets is not None:
        settled = settled_steady(even.first, 60 / even.tempo, even.beats, onsets)
    if settled is None:
        every = tuple(even.first + number * 60 / even.tempo for number in range(even.beats))
        return TappedBeats(even.tempo, _from_zero(every), (*even.sentences, EARLY))
    beats = _from_zero(settled.beats)
    tempo = 60.0 / float(np.mean(np.diff(beats)))
    return TappedBeats(tempo, beats, (*even.sentences, _settled_told(settled)))


def _from_zero(beats: Sequence[float]) -> tuple[float, ...]:
    """Return the beats without those that would be before the music."""
    return tuple(beat for beat in beats if beat >= 0.0)


def _settled_told(settled: Settled) -> str:
    when = "later" if settled.later >= 0.0 else "earlier"
    return (
        f"They were put on the onsets of the music, {1000 * abs(settled.later):.0f} ms {when} "
        "than tapped."
    )
