"""Catches that the one before hides, and how much later they seem for it.

A thud is not heard if it follows on another too closely. So of catches that fall due soon after
others those are heard that come late, and throws would seem late that are not. Let both be normal
about when they are due, with the sd s, and the second due m after the first. It is heard if it
comes more than h after it, and is then later in the mean by

    s / sqrt 2 * f(a) / F(a),    a = (m - h) / (s sqrt 2)

where f and F are the density and the distribution of a normal variable: the mean of a normal
distribution of which one end is cut off (Johnson, Kotz & Balakrishnan, Continuous Univariate
Distributions 1, Wiley 1994, section 13.10.1).
"""

import math
from statistics import NormalDist
from typing import Final

import numpy as np

from engine.catching.heard import Floats

MASKED_SECONDS: Final = 0.046
"""Seconds after a thud in which no other is heard, as measured with thuds as loud as each other."""

FAR: Final = 4.0
"""Spreads beyond these seconds from which on next to nothing is hidden."""

NORMAL: Final = NormalDist()


def masking_delay(due: Floats, spread: float) -> Floats:
    """Return how much later each sound is heard, in the mean, for being hidden now and then.

    `due` is when each usually comes, in seconds; nearly in order. `spread` is the sd of each around
    that, in seconds, more than 0.
    """
    later = np.zeros(len(due))
    off = (np.diff(due) - MASKED_SECONDS) / (spread * math.sqrt(2))
    for index in np.flatnonzero(off < FAR).tolist():
        # Further off nothing is left of the bell to reckon with.
        at = max(float(off[index]), -FAR)
        later[index + 1] = spread / math.sqrt(2) * NORMAL.pdf(at) / NORMAL.cdf(at)
    return later
