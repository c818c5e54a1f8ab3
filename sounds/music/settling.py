"""Tapped beats settle on the onsets of the music: a person taps early, and not twice the same."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from sounds.music.evidence import CLEAR
from sounds.music.onsets import Array, Onsets
from sounds.music.pulse import find_pulse

EARLIEST: Final = 0.12
LATEST: Final = 0.06
"""Seconds by which taps may be before and after the beats as a whole: people tap 20 to 80 ms early
(Repp, Psychon. Bull. Rev. 12 (2005) 969-992; figures from memory)."""

REACH: Final = 0.05
"""Seconds from a tap to its onset, once all of them are moved alike."""

SHARE: Final = 0.25
"""Of a beat; further than that it is another beat."""

HELD: Final = 0.6
"""Share of the stretches that have to keep to one tempo."""

STRONGER: Final = 2.0
"""How much stronger the onsets have to be where the taps are moved to than in the mean."""


@dataclass(frozen=True, slots=True)
class Settled:
    """Beats on the onsets of the music."""

    beats: tuple[float, ...]
    """The beats, in seconds, in order, as many as were tapped."""
    later: float
    """By how much they are later than the taps, in seconds, in the median."""


def settled_steady(first: float, period: float, count: int, onsets: Onsets) -> Settled | None:
    """Return tapped beats of one tempo as the music has them.

    `first` is the first beat and `period` the seconds from beat to beat, as tapped; `count` is how
    many beats there are. The result is None where the music has no such pulse near the taps.
    """
    numbers = np.arange(count, dtype=np.float64) - count // 2
    middle = first + period * (count // 2)
    for parts in (1, 2):  # Where half beats are as strong, the whole ones may be hard to find.
        pulse = find_pulse(onsets, period / parts)
        if pulse is None or pulse.held < HELD:
            continue
        beat = pulse.first + round((middle - pulse.first) / pulse.period) * pulse.period
        beats = beat + numbers * parts * pulse.period
        if _is_near(beat - middle, period) and _is_strong(onsets.at(beats), onsets):
            return _settled(beats, beat - middle)
    return None


def _is_near(later: float, period: float) -> bool:
    return -min(LATEST, SHARE * period) <= later <= min(EARLIEST, SHARE * period)


def _is_strong(strengths: Array, onsets: Onsets) -> bool:
    """Tell whether onsets at some times are much stronger than in the mean."""
    return float(strengths.mean()) > STRONGER * max(float(onsets.strength.mean()), 1e-12)


def settled_listed(taps: Array, onsets: Onsets) -> Settled | None:
    """Return beats tapped one by one, each on its own onset; None where there are none near."""
    usual = float(np.median(np.diff(taps)))
    shifts = np.arange(
        -min(LATEST, SHARE * usual), min(EARLIEST, SHARE * usual), onsets.hop, dtype=np.float64
    )
    strengths = onsets.at(taps + shifts[:, np.newaxis])
    best = int(np.argmax(strengths.mean(axis=1)))
    if not _is_strong(strengths[best], onsets):
        return None
    moved = taps + shifts[best]
    found, own = onsets.near(moved, min(REACH, SHARE * usual))
    clear = own > CLEAR * np.median(own)
    change = np.interp(np.arange(len(taps)), np.flatnonzero(clear), (found - taps)[clear])
    return _settled(taps + change, float(np.median(change)))


def _settled(beats: Array, later: float) -> Settled:
    return Settled(tuple(round(float(beat), 4) for beat in beats), later)
