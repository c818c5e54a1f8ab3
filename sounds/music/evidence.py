"""What speaks for and against a row of beats, in figures."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from sounds.music.onsets import Array, Onsets

REACH: Final = 0.06
"""Seconds within which a beat's own onset is looked for."""

CLOSE: Final = 0.016
"""Seconds within which an onset falls on a place."""

CLEAR: Final = 0.25
"""Share of the usual strength of an onset from which on it is clear."""

PHASES: Final = np.arange(1, 24) / 24
"""Places between two beats that are compared with the beats."""

SAME_PLACE: Final = 0.045
"""Seconds from a beat within which a place is still the beat's."""

LEAST_LOW: Final = 2.0
"""How much stronger low onsets gather somewhere than in the mean, for them to say anything."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """Figures about a row of beats."""

    covered: float
    """The share of beats with a clear onset."""
    between: float
    """How strong onsets are at the strongest place between the beats, against the beats."""
    halfway: float
    """How strong onsets are half way between the beats, against the beats."""
    alternation: float
    """How strong the weaker ones of every other beat are, against the stronger ones."""
    low: float
    """How strong low onsets are on the beats, against where they are strongest; 1 where there are
    none to speak of."""
    deviation: float
    """Seconds that 95 % of the clear onsets are no further from their beats."""
    scatter: float
    """Seconds that 90 % of the beats are no further from where the two on either side, on a smooth
    curve, would have them."""
    furthest: float
    """The same for all of the beats."""


def evidence_for(beats: Array, onsets: Onsets) -> Evidence:
    """Return the figures for at least five beats, in seconds and in order."""
    found, strengths = onsets.near(beats, REACH)
    clear = strengths > CLEAR * np.median(strengths)
    usual = float(np.median(np.diff(beats)))
    on_beat = max(float(np.mean(_strongest(beats, onsets))), 1e-12)
    between = _between(beats, onsets)
    apart = (usual * PHASES > SAME_PLACE) & (usual * (1 - PHASES) > SAME_PLACE)
    off_curve = _off_curve(beats)
    turns = sorted((float(strengths[::2].mean()), float(strengths[1::2].mean())))
    return Evidence(
        covered=float(clear.mean()),
        between=float(between[apart].max(initial=0.0) / on_beat),
        halfway=float(between[len(PHASES) // 2] / on_beat),
        alternation=turns[0] / max(turns[1], 1e-12),
        low=_low(beats, onsets),
        deviation=_quantile(np.abs(found - beats)[clear], 0.95),
        scatter=_quantile(off_curve, 0.9),
        furthest=float(off_curve.max()),
    )


def _quantile(values: Array, share: float) -> float:
    return float(np.quantile(values, share)) if len(values) else 0.0


def _off_curve(times: Array) -> Array:
    """Return how far each time is from the cubic through the two before and the two after it."""
    nearest = times[1:-3] + times[3:-1]
    next_nearest = times[:-4] + times[4:]
    return np.asarray(np.abs(times[2:-2] - (4.0 * nearest - next_nearest) / 6.0))


def _strongest(times: Array, onsets: Onsets, *, low: bool = False) -> Array:
    """Return the strongest onset close to each time, times of any shape."""
    offsets = np.linspace(-CLOSE, CLOSE, 9)
    return np.asarray(onsets.at(times[..., np.newaxis] + offsets, low=low).max(axis=-1))


def _between(beats: Array, onsets: Onsets, *, low: bool = False) -> Array:
    """Return the mean strength at each of `PHASES`."""
    times = beats[:-1] + PHASES[:, np.newaxis] * np.diff(beats)
    return np.asarray(_strongest(times, onsets, low=low).mean(axis=1))


def _low(beats: Array, onsets: Onsets) -> float:
    on_beat = float(_strongest(beats, onsets, low=True).mean())
    between = _between(beats, onsets, low=True)
    strongest = max(on_beat, float(between.max()))
    if strongest < LEAST_LOW * max(float(between.mean()), 1e-12):
        return 1.0
    return on_beat / strongest
