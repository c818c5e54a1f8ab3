"""A steady pulse in music: one tempo throughout, found stretch by stretch and fitted by a line.

Where in each stretch of some beats the onsets gather is looked up by laying the stretch's beats on
top of each other. With one tempo throughout these places lie on a line over the beats, whose slope
mends the tempo and whose height is the first beat. A stretch where they do not (a fill, a break)
is left out of the line, and counts against it.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from sounds.music.onsets import Array, Onsets

BEATS: Final = 8
"""In a stretch; the next one begins half as many later."""

PLACES: Final = 120
"""Looked at within a beat."""

SLIP: Final = 0.03
"""Share of the period by which it may be off at first."""

NEAR_SECONDS: Final = (0.060, 0.040, 0.025, 0.012)
"""A stretch further from the line is left out of it, fit by fit."""

HELD_SECONDS: Final = 0.010
"""A stretch that is no further from the line keeps to it."""

INDISTINCT: Final = 1.5
DISTINCT: Final = 3.5
"""How much stronger the strongest place of a stretch is than the mean of all, where it says
nothing, and where it counts in full."""

OUTWEIGHED: Final = 4.0

FEWEST: Final = 3
"""Stretches that a line needs."""


@dataclass(frozen=True, slots=True)
class Pulse:
    """Beats at one tempo."""

    first: float
    """A beat, in seconds of the music."""
    period: float
    """Seconds from beat to beat."""
    begin: float
    """Where it is first heard, in seconds of the music."""
    end: float
    """Where it is last heard, in seconds of the music; it is heard in most of what is between."""
    held: float
    """The share of stretches there that keep to it, each by how distinct it is."""
    stretches: float
    """How many there are, each by how distinct it is."""

    @property
    def beats(self) -> Array:
        """Its beats where it is heard, in seconds."""
        numbers = np.arange(
            np.ceil((self.begin - self.first) / self.period),
            np.ceil((self.end - self.first) / self.period),
        )
        return np.asarray(self.first + numbers * self.period)


def find_pulse(onsets: Onsets, period: float) -> Pulse | None:
    """Return the pulse whose period is about the one given, None where there is none.

    `period` is in seconds, to within 3 %.
    """
    rough = _fitted(onsets, period)
    return None if rough is None else _fitted(onsets, rough.period)


def _fitted(onsets: Onsets, period: float) -> Pulse | None:
    starts, places, weights = _stretches(onsets, period)
    if len(starts) < FEWEST or not weights.any():
        return None
    slope, height = _roughly(starts, places, weights)
    for reach in NEAR_SECONDS:
        off = (places - height - slope * starts + 0.5) % 1.0 - 0.5
        near = weights * (np.abs(off) * period < reach)
        if np.count_nonzero(near) < FEWEST:
            break
        roots = np.sqrt(near)
        line = np.stack((np.ones(len(starts)), starts), axis=1) * roots[:, np.newaxis]
        change, *_ = np.linalg.lstsq(line, off * roots, rcond=None)
        height, slope = height + change[0], slope + change[1]
    off = np.abs((places - height - slope * starts + 0.5) % 1.0 - 0.5) * period
    held = off < HELD_SECONDS
    first, last = _span(held, weights)
    within = weights[first : last + 1]
    whole = last == len(starts) - 1
    return Pulse(
        first=onsets.start + height * period,
        period=period * (1.0 + slope),
        begin=onsets.start + float(starts[first]) * period,
        end=onsets.end if whole else onsets.start + float(starts[last] + BEATS) * period,
        held=float(within[held[first : last + 1]].sum() / max(within.sum(), 1e-12)),
        stretches=float(within.sum()),
    )


def _span(held: npt.NDArray[np.bool_], weights: Array) -> tuple[int, int]:
    """Return the first and the last stretch of those in a row most of which keep to the line.

    It is the row with the largest sum (Kadane's way), one that does not keep to it outweighing
    `OUTWEIGHED` that do.
    """
    best, first, last, begin, total = -1.0, 0, 0, 0, 0.0
    for number, worth in enumerate(np.where(held, weights, -OUTWEIGHED * weights)):
        if total <= 0.0:
            begin, total = number, 0.0
        total += float(worth)
        if total > best:
            best, first, last = total, begin, number
    return first, last


def _stretches(onsets: Onsets, period: float) -> tuple[Array, Array, Array]:
    """Return for each stretch its first beat, where in a beat onsets gather, and how distinctly.

    The place is a share of the period.
    """
    count = int((onsets.end - onsets.start) / period)
    starts = np.arange(0, max(count - BEATS, 0) + 1, BEATS // 2, dtype=np.float64)
    within = np.arange(PLACES) / PLACES
    beats = np.arange(BEATS)[:, np.newaxis] + within
    profiles = np.empty((len(starts), PLACES))
    for number, start in enumerate(starts):
        profiles[number] = onsets.at(onsets.start + (start + beats) * period).mean(axis=0)
    rows, best = np.arange(len(starts)), profiles.argmax(axis=1)
    before, top = profiles[rows, best - 1], profiles[rows, best]
    after = profiles[rows, (best + 1) % PLACES]
    # The vertex of a parabola through the three highest.
    bend = np.maximum(2.0 * top - before - after, 1e-12)
    places = (best + 0.5 * (after - before) / bend) / PLACES
    contrast = top / np.maximum(profiles.mean(axis=1), 1e-12)
    weights = np.clip((contrast - INDISTINCT) / (DISTINCT - INDISTINCT), 0.0, 1.0)
    return starts, places % 1.0, weights


def _roughly(starts: Array, places: Array, weights: Array) -> tuple[float, float]:
    """Return slope and height of the line on which most places lie, on a circle."""
    steps = max(len(starts) * BEATS, 50)
    slopes = np.linspace(-SLIP, SLIP, steps | 1)
    turns = np.array([np.exp(2j * np.pi * (places - each * starts)) @ weights for each in slopes])
    best = int(np.argmax(np.abs(turns)))
    return float(slopes[best]), float(np.angle(turns[best]) / (2 * np.pi))
