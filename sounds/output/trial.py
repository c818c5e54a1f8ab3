"""Finds the lowest latency at which this computer plays without a gap.

At each latency the player of the program plays soft clicks, and after it a bare one, which hands
out silence and does nothing else. Where that has gaps too, the machine or the device is too slow,
whatever plays.
"""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Final

from throwcount.engine.patterns.rules import read
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.sounds.mixing.score import Balance
from throwcount.sounds.output.commands import Play, ScheduledRun
from throwcount.sounds.output.player import LivePlayer

LATENCIES: Final = (0.2, 0.1, 0.05, 0.03, 0.01)
"""Seconds, falling."""

PLAYED: Final = 4.0
BARE: Final = 2.5
"""Seconds at each latency; of the first no gap is counted."""

LEVEL: Final = -30.0
"""Of the clicks, in dB against the usual."""


@dataclass(frozen=True, slots=True)
class Trial:
    """How it went at one latency."""

    latency: float
    """In seconds."""
    gaps: int
    """How often the device ran out of sound that the program played."""
    bare_gaps: int
    """The same of the bare player."""


Opener = Callable[[float, bool], AbstractContextManager[LivePlayer]]
"""Opens a player with a latency in seconds, and tells whether it is to be the bare one."""


def trials(opened: Opener) -> Iterator[Trial]:
    """Yield how it goes at each latency; half a minute in all.

    Raises
    ------
    DeviceError
        If there is nothing to play on, or not any more.
    """
    for latency in LATENCIES:
        with opened(latency, False) as player:
            player.send(Play(_clicks(player.soon())))
            player.wait(PLAYED)
            gaps = player.gaps
        with opened(latency, True) as player:
            player.wait(BARE)
            yield Trial(latency, gaps, player.gaps)


def _clicks(start: float) -> ScheduledRun:
    """Return a pattern in clicks that never ends."""
    run = Run((Part(read("531"), None),), steady(300), ready=0.1, say="nothing", count_in=0)
    return ScheduledRun(run, start, Balance(click_level=LEVEL))


def lowest_without_gaps(found: list[Trial]) -> float | None:
    """Return the lowest latency that had no gap, and above which there was none; None if none."""
    lowest = None
    for trial in sorted(found, key=lambda trial: -trial.latency):
        if trial.gaps:
            break
        lowest = trial.latency
    return lowest
