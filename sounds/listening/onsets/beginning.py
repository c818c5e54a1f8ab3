"""When a thud begins, to a fraction of a moment.

The evidence is at its most somewhere in the first milliseconds of a thud. Its beginning is where
the amplitude over the background, all bands taken together, last passes a share of its peak on
the way up. That is early enough not to depend on how a thud goes on, and late enough not to
depend on the noise before it.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from sounds.listening.onsets.bands import Powers
from sounds.listening.onsets.evidence import HIGHEST, decibels

SHARE: Final = 0.3
"""Of the peak; a thud that rises within 1 to 3 ms passes it less than a millisecond after its
first sound, which the length of a window makes up for."""

BEFORE: Final = (-34, -14)
RISING: Final = (-14, 8)
"""Where the background is measured and where the beginning is looked for, in moments around the
moment of most evidence."""

BEGINNING_PAST: Final = -BEFORE[0]
BEGINNING_FUTURE: Final = RISING[1]
"""How many moments before and after that moment are looked at."""


def thud_beginning(
    powers: Powers, floor: npt.NDArray[np.float64], weights: npt.NDArray[np.float64]
) -> float:
    """Return by how many moments a thud begins after its moment of most evidence.

    The result is between the ends of `RISING`.

    Parameters
    ----------
    powers
        Of `BEGINNING_PAST` hops before that hop, of it, and of `BEGINNING_FUTURE` - 1 after it.
    floor
        Mean square of the background in each band.
    weights
        How much each band counts; their sum is 1.
    """
    usual = np.maximum(powers[: BEFORE[1] + BEGINNING_PAST].mean(axis=0), floor)
    above = np.clip(decibels(powers[RISING[0] + BEGINNING_PAST :] / usual), 0.0, HIGHEST) @ weights
    amplitude = 10.0 ** (above / 20.0) - 1.0
    peak = int(np.argmax(amplitude))
    passed = SHARE * amplitude[peak]
    below = np.flatnonzero(amplitude[:peak] < passed)
    if not len(below):
        return float(RISING[0])
    last = int(below[-1])
    step = (passed - amplitude[last]) / (amplitude[last + 1] - amplitude[last])
    return float(RISING[0] + last + step)
