"""Tapping along: music plays, each key that is pressed is a tap, and taps become beats.

People tap early, and unevenly. Where onsets of the music keep coming near the taps, the beats are
put on these onsets; elsewhere they stay where they were tapped.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, Protocol

import numpy as np

from throwcount.caller.plans.taps import SteadyTaps, TapsError, listed_taps, steady_taps, wanders
from throwcount.caller.terminal.controls import RESUMED
from throwcount.caller.terminal.glance import Glance
from throwcount.caller.terminal.screen import Display, Keys, display, reading_keys
from throwcount.engine.numbers import counted
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
"""Seconds after a press within which another press is the same key held down."""

REFRESH: Final = 0.1
"""Seconds between two updates of the screen; keys are noticed at once."""

TEMPO_TAPS: Final = 8
"""The tempo that is shown is that of this many last taps."""

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
        """Wait, and return whether the player is over; raise `DeviceError` if it failed."""


@dataclass(slots=True)
class Taps:
    """The taps so far, in seconds of the music."""

    times: list[float] = field(default_factory=list)

    def add(self, time: float) -> None:
        """Add a tap, unless it is a key held down."""
        if not self.times or time - self.times[-1] >= HELD_DOWN:
            self.times.append(time)

    @property
    def tempo(self) -> float | None:
        """The tempo of the last few taps, in beats a minute; None for fewer than three."""
        intervals = np.diff(self.times[-TEMPO_TAPS:])
        return None if len(intervals) < 2 else float(60.0 / np.median(intervals))  # noqa: PLR2004 - one interval is no tempo


def scheduled_run(music: Music, start: float) -> ScheduledRun:
    """Return music alone, without a click or a word, that begins at `start` on the player's clock.

    The music is decoded to the player's rate.
    """
    silent = Run((Part(read("0"), None),), steady(60.0), ready=0.0, count_in=0, say="nothing")
    return ScheduledRun(silent, start, Balance(clicks="none"), track=Track(music, 0.0))


def tap(music: Music, player: Player, delay: float = 0.0) -> list[float]:
    """Play music until it ends or a key of `DONE` is pressed; return when other keys were pressed.

    Times are in seconds of the music, in order: what was heard at each press, by the delay that
    the device reports and `delay`, the seconds from the device to the ear. The terminal is taken
    over meanwhile. The music is decoded to the player's rate, and the player ends with it.

    Raises
    ------
    DeviceError
        If the player fails.
    """
    with display() as screen, reading_keys(screen.hide) as keys:
        return tapped(music, player, keys, screen, delay)


def tapped(
    music: Music, player: Player, keys: Keys, screen: Display, delay: float = 0.0
) -> list[float]:
    """Do what `tap` does, with the given keys and screen."""
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
    """Act on a key; return the notice to show, if any."""
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
"""The music's tempo counts as moving if its own beats are this many seconds off an even beat."""

LISTED: Final = "The tempo moves, or the taps are uneven: every beat is listed as it was tapped."


@dataclass(frozen=True, slots=True)
class TappedBeats:
    """The beats that taps were meant for."""

    tempo: float | None
    """Beats a minute; None if the taps keep no tempo."""
    beats: tuple[float, ...]
    """In seconds of the music, in order."""
    sentences: tuple[str, ...]
    """What to tell a person about them."""


def tapped_beats(taps: Sequence[float], music: Music) -> TappedBeats:
    """Return the beats that taps on music were meant for.

    `taps` are in seconds of the music, in order. Onsets are looked for if the music lasts
    `LONGEST_SECONDS` at most.

    Raises
    ------
    TapsError
        If there are too few taps.
    """
    listed, even = listed_taps(taps), _even(taps)
    onsets = onsets_of(music) if music.seconds <= LONGEST_SECONDS else None
    own = None if onsets is None else settled_listed(np.array(listed.beats), onsets)
    if even is not None and (own is None or not wanders(np.array(own.beats), WANDERING)):
        return _steady(even, onsets)
    texts = (LISTED, *listed.sentences)
    if own is None:
        return TappedBeats(None, listed.beats, (*texts, EARLY))
    return TappedBeats(None, _from_zero(own.beats), (*texts, _settled_text(own)))


def _even(taps: Sequence[float]) -> SteadyTaps | None:
    """Return the taps' one tempo; None if there is none, or it moves."""
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
    return TappedBeats(tempo, beats, (*even.sentences, _settled_text(settled)))


def _from_zero(beats: Sequence[float]) -> tuple[float, ...]:
    """Return the beats that do not come before the music."""
    return tuple(beat for beat in beats if beat >= 0.0)


def _settled_text(settled: Settled) -> str:
    when = "later" if settled.later >= 0.0 else "earlier"
    return (
        f"They were put on the onsets of the music, {1000 * abs(settled.later):.0f} ms {when} "
        "than tapped."
    )
