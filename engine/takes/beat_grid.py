"""The beat grid: the rate of catches and when they fall due, from the thuds alone.

In each window of some seconds every rate is tried. The thuds are put on a circle that turns once a
catch, where a mixture of a normal and a uniform density is fitted to them by
expectation-maximisation; thuds that keep to the rate fall on one side of the circle. How well they
do so is the resultant length of directional statistics, tested against chance by Rayleigh's test
(Mardia & Jupp, Directional Statistics, Wiley 2000, chapters 2 and 6). Thuds in step at one rate
are also in step at twice that rate, so the slowest that explains them is taken. Across windows,
Viterbi's algorithm finds the rates that explain most and change least. The beats of the grid
follow each other at these rates and are drawn towards the phase of each window.

A rate of catches is not yet a tempo in beats: if both hands catch at once, or every second throw
makes no thud, there are two beats to a catch, and thuds cannot tell. So `readings` weighs the
possibilities by how fast people juggle.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from throwcount.engine.takes.catches import Floats
from throwcount.engine.takes.mixture import bumps
from throwcount.engine.takes.offsets import eased

SLOWEST: Final = 40.0
FASTEST: Final = 420.0
"""Catches a minute that are looked for."""

WINDOW: Final = 8.0
HOP: Final = 4.0
"""Seconds of a window, and from one to the next."""

STEP: Final = 0.01
"""Relative difference from one rate that is tried to the next."""

FEWEST: Final = 6
"""Thuds and turns in a window, at least, that can tell a rate."""

EASE: Final = 1.0
"""Nats that each step of the rate from window to window costs."""

LEAP: Final = 18.0
"""The most that a change costs, in nats."""

CLIMB: Final = 4
"""Iterations of the fit at each rate."""

LEAST_EXTRA: Final = 0.05
"""The share of thuds that are extra, at least."""

NARROWEST: Final = 0.004
"""Standard deviation of thuds about their beat, in seconds, at least; nobody is steadier."""

WIDEST: Final = 0.25
"""Standard deviation of thuds about their beat, in turns, at most; beyond it there is no peak."""

TRIALS: Final = 100
"""Roughly how many of the rates tried in a window are independent of each other."""

USUAL_TEMPO: Final = 190.0
TEMPO_RANGE: Final = 0.35
"""Beats a minute at which people juggle, and the standard deviation of the logarithm: an estimate
of our own, chosen so that the usual 150 to 260 lie within one standard deviation."""


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
    """Seconds from `start` to the first beat of the grid."""
    in_step: float
    """The resultant length of the thuds at this rate, 0 to 1."""
    confidence: float
    """1 less the probability of such a resultant length by chance."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A tempo that the thuds may mean, in beats a minute, and its probability, 0 to 1."""

    tempo: float
    share: float


def grid_tempos(times: Sequence[float]) -> tuple[GridTempo, ...]:
    """Return the rate of catches in each window that has enough thuds to tell.

    `times` are those of the thuds, in seconds, in order.
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
    """Return the median rate of the windows, weighted by confidence, in catches a minute.

    The result is None without any window.
    """
    order = sorted(found, key=lambda each: each.rate)
    half = math.fsum(each.confidence for each in order) / 2
    passed = 0.0
    for each in order:
        passed += each.confidence
        if passed >= half:
            return each.rate
    return order[-1].rate if order else None


def readings(rate: float) -> tuple[Reading, ...]:
    """Return the tempos that a rate of catches may mean, the likeliest first.

    There may be a catch on each beat, or on every second one. Thuds alone cannot tell, so the
    probabilities come from how fast people juggle (a log-normal distribution).
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
    """Return the log likelihood ratio of each rate against chance for a window, in nats.

    On the circle the density of thuds is a normal one plus a uniform one of extra thuds. At twice
    the true rate the normal one is twice as wide, and so explains less.
    """
    turns = np.outer(RATES / 60, since)
    mean = np.exp(2j * np.pi * turns).mean(axis=-1, keepdims=True)
    off = turns - np.angle(mean) / (2 * np.pi)
    off -= np.round(off)
    # Half of a normal distribution lies within 0.6745 standard deviations.
    spread = np.median(np.abs(off), axis=-1, keepdims=True) / 0.6745
    spread = np.clip(spread, LEAST_SPREAD, WIDEST)
    extra = np.full_like(spread, 0.2)
    for _ in range(CLIMB):
        bump = (1 - extra) * bumps(off, spread)
        inside = bump / (bump + extra)
        mass = inside.sum(axis=1, keepdims=True)
        spread = np.sqrt((inside * off * off).sum(axis=1, keepdims=True) / mass)
        spread = np.clip(spread, LEAST_SPREAD, WIDEST)
        extra = np.clip(1 - mass / len(since), LEAST_EXTRA, 1)
    nats: Floats = np.log((1 - extra) * bumps(off, spread) + extra).sum(axis=1)
    return nats


def _smoothest(values: Sequence[Floats]) -> list[int]:
    """Return the index of each window's rate on the best path (Viterbi's algorithm)."""
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
    """Return the tempo of a window whose rate is roughly known, from the largest resultant."""
    since = inside - start
    fine = rate * (1 + STEP * np.linspace(-1, 1, 41))
    means = np.exp(2j * np.pi * np.outer(fine / 60, since)).mean(axis=1)
    best = int(np.argmax(np.abs(means)))
    mean, rate = complex(means[best]), float(fine[best])
    turn = 60 / rate
    phase = (np.angle(mean) / (2 * math.pi) % 1) * turn
    in_step = abs(mean)
    # The probability of so large a resultant by chance at any of the rates (Rayleigh's test); over
    # a few turns it is large anyway.
    by_chance = min(1.0, TRIALS * math.exp(-len(since) * in_step**2))
    if (since[-1] - since[0]) / turn + 1 < FEWEST:
        by_chance = 1.0
    return GridTempo(
        start=start,
        end=start + WINDOW,
        rate=rate,
        phase=float(phase),
        in_step=in_step,
        confidence=1 - by_chance,
    )


PULL: Final = 0.3
"""How far each beat is drawn towards the phase of its window, as a share of the difference."""

OFF_THE_GRID: Final = 0.25
"""Turns of difference beyond which it is not drawn, as the window may be a beat off."""

TURNS: Final = 8
AMONG: Final = 4
"""A thud counts as a catch if at least `AMONG` others come within `TURNS` turns after it, or
before it, unlike those of a recorder that is put down or taken up."""


def ends(times: Floats, rate: float) -> tuple[float, float]:
    """Return when the first and the last thud that is one of many was heard, in seconds.

    `times` are those of the thuds, in seconds, in order, at least one. `rate` is in catches a
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
    """Return the beats of the grid, in seconds, from `start` to `end`.

    They follow each other at the rate of the nearest window and are drawn towards its phase, so
    that none is left out or counted twice where the rate changes slowly. `found` holds at least
    one window.
    """
    first = found[0]
    turn = 60 / first.rate
    beat = first.start + first.phase
    beat -= turn * int((beat - start) / turn)
    beats = []
    index = 0
    while beat <= end:
        beats.append(beat)
        while (
            index + 1 < len(found) and (found[index + 1].start + found[index + 1].end) / 2 <= beat
        ):
            index += 1
        window = found[index]
        turn = 60 / window.rate
        beat += turn
        off = (beat - (window.start + window.phase)) / turn
        off -= round(off)
        if abs(off) < OFF_THE_GRID:
            beat -= PULL * off * turn
    return beats
