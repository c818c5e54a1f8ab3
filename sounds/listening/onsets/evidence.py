"""How much a moment sounds like the beginning of a thud, band by band.

A thud rises within a few milliseconds and dies away. So the evidence is by how much the power just
after a moment is above what it was just before (or above the background, where that is more), less
what is left of it soon after. What dies away slowly, such as the room's answer to the last thud,
was there just before; a vowel is there soon after; and the pulses of a voice, up to 12 ms apart,
are both just before and just after.
"""

from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from sounds.listening.onsets.bands import Powers

Evidence: TypeAlias = npt.NDArray[np.float64]
"""Float64 of shape (moments, bands), in dB, 0 to `HIGHEST`."""

BEFORE: Final = (-24, -4)
STRUCK: Final = (-1, 6)
SOON: Final = (28, 48)
LATER: Final = (48, 91)
"""Stretches around a moment, in moments (milliseconds): from the first number on, until before the
second. What `BEFORE` measures ends where the windows of what is struck begin. What is left is
measured in two stretches, so that a thud is not taken for a vowel if another one follows soon."""

EVIDENCE_PAST: Final = -BEFORE[0]
EVIDENCE_FUTURE: Final = LATER[1] - 1
"""How many moments before and after a moment its evidence depends on."""

HIGHEST: Final = 40.0
"""More dB than this in one band are no more evidence."""

LEFT_WEIGHT: Final = 0.8
"""How much of what is left soon after counts against a thud: not all, since rooms answer."""


def evidence_of(powers: Powers, floor: npt.NDArray[np.float64]) -> Evidence:
    """Return the evidence of moments.

    Parameters
    ----------
    powers
        Of `EVIDENCE_PAST` hops before them, of them, and of `EVIDENCE_FUTURE` hops after them.
    floor
        Mean square of the background in each band, above 0.
    """
    usual = np.maximum(_means(powers, BEFORE), floor)
    rise = np.clip(decibels(_means(powers, STRUCK) / usual), 0.0, HIGHEST)
    least = np.minimum(_means(powers, SOON), _means(powers, LATER))
    left = np.clip(decibels(least / usual), 0.0, rise)
    return np.asarray(rise - LEFT_WEIGHT * left)


def decibels(ratio: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return ratios of powers in dB, -300 for none."""
    return np.asarray(10.0 * np.log10(np.maximum(ratio, 1e-30)))


def _means(powers: Powers, stretch: tuple[int, int]) -> Powers:
    """Return the mean over a stretch around each moment."""
    first, last = stretch[0] + EVIDENCE_PAST, stretch[1] + EVIDENCE_PAST
    summed = np.concatenate((np.zeros((1, powers.shape[1])), np.cumsum(powers, axis=0)))
    count = len(powers) - EVIDENCE_PAST - EVIDENCE_FUTURE
    means = (summed[last : last + count] - summed[first : first + count]) / (last - first)
    return np.asarray(np.maximum(means, 0.0))
