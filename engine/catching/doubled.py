"""The spread behind thuds of which each is the first of two.

Where both hands, or two objects in one, are always caught at the same time, a thud is that of the
earlier catch, and the later one is heard only if it comes after the first has died away. So the
thuds spread less than the catches, or, with some second ones among them, more.
"""

import math
from statistics import NormalDist
from typing import Final

from engine.catching.together import MERGED

NORMAL: Final = NormalDist()

LEAST_MERGED: Final = 0.03
MOST_MERGED: Final = 0.9
"""The share of pairs heard as two that tells how far apart their catches are."""


def spread_of_pairs(spread: float, heard: float, thuds: float) -> float:
    """Return the sd of each catch, in seconds, from what is heard of pairs of catches.

    Let a catch be late by what both have in common and a part of its own, normal with sd h. The
    two are further apart than m, and so heard as two, with the chance P = 2 (1 - F(a)), where
    a = m / (h sqrt 2) and F is the normal distribution. That gives h. What the own parts add to
    the variance of the thuds follows from the half-normal distribution of the distance; it is
    taken off, and that of all catches, h squared, put in its place.

    `spread` is the sd of the thuds, in seconds. `heard` is the share of the pairs of which anything
    was heard, 0 to 1. `thuds` is how many thuds there are for each pair.
    """
    missing = math.sqrt(max(1 - heard, 0.0))
    caught_both = (1 - missing) ** 2
    doubled = (thuds - 2 * missing * (1 - missing)) / max(caught_both, 0.01) - 1
    if doubled < LEAST_MERGED:
        return spread
    own = MERGED / (math.sqrt(2) * NORMAL.inv_cdf(1 - min(doubled, MOST_MERGED) / 2))
    return math.sqrt(max(spread**2 + own**2 - heard_variance(own), 0.25 * spread**2))


def heard_variance(own: float) -> float:
    """Return the variance of the thuds of pairs whose catches have the sd `own`, in seconds.

    Of two catches the mean varies by own squared over 2, and each lies half their distance from
    it; the second is heard where the distance is more than `MERGED`.
    """
    far = MERGED / (own * math.sqrt(2))
    doubled = 2 * (1 - NORMAL.cdf(far))
    squares_beyond = 4 * own**2 * (far * NORMAL.pdf(far) + 1 - NORMAL.cdf(far))
    mean = -0.5 * (2 * own / math.sqrt(math.pi)) * (1 - math.exp(-0.5 * far**2))
    square = 0.5 * own**2 * (1 + doubled) + 0.25 * (2 * own**2 + squares_beyond)
    return square / (1 + doubled) - (mean / (1 + doubled)) ** 2
