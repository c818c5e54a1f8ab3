"""When catches fall due at the beat grid that was found, where no pattern is known."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from engine.catching.cadence import GridTempo
from engine.catching.heard import Floats

PULL: Final = 0.3
"""How far each place is drawn towards where the beat grid of its window has one."""

OFF_THE_GRID: Final = 0.25
"""Turns from there beyond which it is not drawn: the window may be a beat out."""

TURNS: Final = 8
AMONG: Final = 4
"""A catch has so many others within so many turns after it, or before it. What comes alone, as
when a recorder is put down or taken up, has not."""


def ends(times: Floats, rate: float) -> tuple[float, float]:
    """Return when the first and the last thud that is one of many was heard, in seconds.

    `times` say when each thud was heard, in seconds, in order; at least one. `rate` is in catches a
    minute.
    """
    reach, places = TURNS * 60 / rate, np.arange(len(times))
    after = np.searchsorted(times, times + reach, "right") - 1 - places
    before = places - np.searchsorted(times, times - reach)
    begun, ended = np.flatnonzero(after >= AMONG), np.flatnonzero(before >= AMONG)
    if not len(begun) or not len(ended):
        return float(times[0]), float(times[-1])
    return float(times[begun[0]]), float(times[ended[-1]])


def beat_grid(found: Sequence[GridTempo], start: float, end: float) -> list[float]:
    """Return when a catch falls due, in seconds, from `start` to `end`.

    The places follow on each other at the rate of the nearest window and are drawn towards its
    phase, so that none is left out or counted twice where the beat grid changes slowly.

    `found` is the beat grid over time; at least one window. `start` and `end` are in seconds.
    """
    first = found[0]
    turn = 60 / first.rate
    place = first.start + first.phase
    place -= turn * int((place - start) / turn)
    places = []
    index = 0
    while place <= end:
        places.append(place)
        while index + 1 < len(found) and _middle(found[index + 1]) <= place:
            index += 1
        turn = 60 / found[index].rate
        place = _drawn(place + turn, found[index], turn)
    return places


def _middle(window: GridTempo) -> float:
    return (window.start + window.end) / 2


def _drawn(place: float, window: GridTempo, turn: float) -> float:
    origin = window.start + window.phase
    off = (place - origin) / turn
    off -= round(off)
    return place - PULL * off * turn if abs(off) < OFF_THE_GRID else place
