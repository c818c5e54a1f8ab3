"""How fast the catches come, from the thuds alone.

In a window of some seconds every rate is tried: thuds are put on a circle that turns once for
each catch, and the rate at which they fall on one side of it is theirs (the resultant length of
directional statistics; Mardia & Jupp, Directional Statistics, Wiley 2000, chapters 2 and 6).
Thuds that come in step at some rate do so at twice the rate too, so the slowest that explains
them is taken. A rate that changes little from window to window is preferred by dynamic
programming.

A rate of catches is not yet a tempo in beats: where both hands catch at once, or every second
throw makes no thud, there are two beats to a catch, and thuds cannot tell. So `readings` weighs
the possibilities by how fast people juggle, and says so.

When catches fall due at the beat grid that was found, where no pattern is known.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from throwcount.engine.takes.catches import Floats
from throwcount.engine.takes.offsets import eased

SLOWEST: Final = 40.0
FASTEST: Final = 420.0
"""Catches a minute that are looked for."""

WINDOW: Final = 8.0
HOP: Final = 4.0
"""Seconds of a window, and from one to the next."""

STEP: Final = 0.01
"""Ratio from one rate that is tried to the next, less 1."""

FEWEST: Final = 6
"""Thuds in a window that can tell a rate, and turns over which they do."""

EASE: Final = 1.0
"""Nats for each step of the rate from window to window."""

LEAP: Final = 18.0
"""Nats for a change of any size."""

CLIMB: Final = 4
"""Steps by which the bump of each rate is fitted."""

LEAST_EXTRA: Final = 0.05
"""The share of thuds that may be extra, at least."""

NARROWEST: Final = 0.004
"""Seconds that thuds spread around their place, at least; nobody is steadier."""

WIDEST: Final = 0.25
"""The spread of thuds around their place, in turns, at most: there is no bump any more."""

TRIALS: Final = 100
"""Rates in a window that are independent of each other, about."""

USUAL_TEMPO: Final = 190.0
TEMPO_RANGE: Final = 0.35
"""Beats a minute at which people juggle, and the sd of its logarithm: a guess of ours, made to
hold the 150 to 260 that are usual within one sd."""


@dataclass(frozen=True, slots=True)
class GridTempo:
    """The rate of catches in a window."""

    start: float
    """When it begins, in seconds."""
    end: float
    """When it ends, in seconds."""
    rate: float
    """Catches a minute."""
    phase: float
    """Seconds from `start` to the first place where a catch falls due."""
    thuds: int
    """How many there are in the window."""
    in_step: float
    """How well the thuds keep to it, from 0 to 1 (the resultant length)."""
    confidence: float
    """How surely they do so not by chance, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A tempo that the thuds may mean, in beats a minute, and how likely it is, 0 to 1."""

    tempo: float
    share: float


def grid_tempos(times: Sequence[float]) -> tuple[GridTempo, ...]:
    """Return the rate of catches over time; nothing where there are too few thuds to tell.

    `times` say when each thud was heard, in seconds, in order.
    """
    heard = np.asarray(times, dtype=np.float64)
    if len(heard) < FEWEST:
        return ()
    starts = np.arange(heard[0], max(heard[-1] - WINDOW, heard[0]) + HOP / 2, HOP)
    spans = [(start, *np.searchsorted(heard, [start, start + WINDOW])) for start in starts]
    windows = [(start, heard[low:high]) for start, low, high in spans if high - low >= FEWEST]
    path = _smoothest([_explained(inside - start) for start, inside in windows])
    return tuple(
        _refined(start, inside, RATES[place])
        for (start, inside), place in zip(windows, path, strict=True)
    )


def overall(found: Sequence[GridTempo]) -> float | None:
    """Return the usual rate of the windows, in catches a minute; None without any."""
    if not found:
        return None
    order = sorted(found, key=lambda each: each.rate)
    half = math.fsum(each.confidence for each in order) / 2
    passed = 0.0
    for each in order:
        passed += each.confidence
        if passed >= half:
            return each.rate
    return order[-1].rate


def readings(rate: float) -> tuple[Reading, ...]:
    """Return the tempos that a rate of catches may mean, the likeliest first.

    One catch a beat, or one on every second beat: both hands at once, or every second throw
    silent. Thuds alone cannot tell, so the shares come from how fast people juggle.
    """
    weights = {
        tempo: math.exp(-0.5 * (math.log(tempo / USUAL_TEMPO) / TEMPO_RANGE) ** 2)
        for tempo in (rate, 2 * rate)
    }
    total = math.fsum(weights.values())
    if total == 0:
        return (Reading(rate, 0.5), Reading(2 * rate, 0.5))
    return tuple(
        Reading(tempo, weight / total)
        for tempo, weight in sorted(weights.items(), key=lambda each: -each[1])
    )


RATES: Final = SLOWEST * (1 + STEP) ** np.arange(
    int(math.log(FASTEST / SLOWEST) / math.log1p(STEP)) + 1
)

LEAST_SPREAD: Final = (NARROWEST * RATES / 60)[:, np.newaxis]


def _explained(since: Floats) -> Floats:
    """Return how much better than chance each rate explains the thuds of a window, in nats.

    On the circle a thud lies in a normal bump or is extra. A rate that is twice too fast has
    bumps that are twice too wide, and so explains less.
    """
    turns = np.outer(RATES / 60, since)
    off, spread = _around(turns)
    extra = np.full_like(spread, 0.2)
    for _ in range(CLIMB):
        bump = (1 - extra) * np.exp(-0.5 * (off / spread) ** 2) / (spread * math.sqrt(2 * math.pi))
        inside = bump / (bump + extra)
        mass = inside.sum(axis=1, keepdims=True)
        spread = np.sqrt((inside * off * off).sum(axis=1, keepdims=True) / mass)
        spread = np.clip(spread, LEAST_SPREAD, WIDEST)
        extra = np.clip(1 - mass / len(since), LEAST_EXTRA, 1)
    bump = (1 - extra) * np.exp(-0.5 * (off / spread) ** 2) / (spread * math.sqrt(2 * math.pi))
    nats: Floats = np.log(bump + extra).sum(axis=1)
    return nats


def _around(turns: Floats) -> tuple[Floats, Floats]:
    """Return how far thuds are from the nearest place, in turns, and a guess of their spread."""
    mean = np.exp(2j * np.pi * turns).mean(axis=-1, keepdims=True)
    off = turns - np.angle(mean) / (2 * np.pi)
    off -= np.round(off)
    # Of a normal bump half lies within 0.6745 of its sd.
    spread = np.median(np.abs(off), axis=-1, keepdims=True) / 0.6745
    return off, np.clip(spread, LEAST_SPREAD, WIDEST)


def _smoothest(values: Sequence[Floats]) -> list[int]:
    """Return the rate of each window, as an index, that explains most and changes least."""
    if not values:
        return []
    value, backs = values[0], []
    for here in values[1:]:
        moved, back = eased(value, EASE, LEAP)
        backs.append(back)
        value = moved + here
    path = [int(np.argmax(value))]
    for back in reversed(backs):
        path.append(int(back[path[-1]]))
    return path[::-1]


def _refined(start: float, inside: Floats, rate: float) -> GridTempo:
    """Return the tempo of a window whose rate is about known."""
    since = inside - start
    fine = rate * (1 + STEP * np.linspace(-1, 1, 41))
    mean = np.exp(2j * np.pi * np.outer(fine / 60, since)).mean(axis=1)
    best = int(np.argmax(np.abs(mean)))
    return _grid_tempo(start, since, float(fine[best]), complex(mean[best]))


def _grid_tempo(start: float, since: Floats, rate: float, mean: complex) -> GridTempo:
    turn = 60 / rate
    phase = (np.angle(mean) / (2 * math.pi) % 1) * turn
    in_step = abs(mean)
    # The chance that thuds at random keep so well in step at any of the rates (Rayleigh's test);
    # within a few turns they do so anyhow.
    by_chance = min(1.0, TRIALS * math.exp(-len(since) * in_step**2))
    if (since[-1] - since[0]) / turn + 1 < FEWEST:
        by_chance = 1.0
    return GridTempo(
        start=start,
        end=start + WINDOW,
        rate=rate,
        phase=float(phase),
        thuds=len(since),
        in_step=in_step,
        confidence=1 - by_chance,
    )


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
