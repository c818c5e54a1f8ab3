"""Where a take fell apart: the moment from which the catches are less steady than before.

Of all moments the one is taken at which two spreads, one before and one after, explain the
asynchronies best (the likelihood ratio for a change of variance; Chen & Gupta, J. Amer. Stat.
Assoc. 92 (1997) 739-747), if that is far better than a single spread and the second is much wider.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from engine.catching.heard import Floats

FEWEST_ON_A_SIDE: Final = 16
"""Catches on either side, at least."""

WIDER: Final = 1.5
"""How much wider the spread is afterwards, at least."""

BETTER: Final = 10.0
"""Nats by which two spreads explain more than one, at least."""


@dataclass(frozen=True, slots=True)
class Change:
    """The moment from which catches are less steady."""

    time: float
    """When the first of these catches was due, in seconds of the take."""
    before: float
    """The sd of the asynchronies up to then, in seconds."""
    after: float
    """The sd of the asynchronies from then on, in seconds."""


def change_point(times: Floats, late: Floats, correlation: float = 0.0) -> Change | None:
    """Return where a take fell apart; None where it did not.

    Parameters
    ----------
    times
        When each sound was due, in order, in seconds.
    late
        Its asynchrony about the straight line through all, in seconds; not a number where none
        was heard.
    correlation
        Of one asynchrony with the next: catches that follow each other closely count for fewer.
    """
    heard = ~np.isnan(late)
    when, square = times[heard], late[heard] ** 2
    count = len(square)
    if count < 2 * FEWEST_ON_A_SIDE:
        return None
    before = np.arange(FEWEST_ON_A_SIDE, count - FEWEST_ON_A_SIDE + 1)
    sums = np.cumsum(square)
    early = sums[before - 1] / before
    later = (sums[-1] - sums[before - 1]) / (count - before)
    floor = max(sums[-1] / count * 1e-6, 1e-12)
    early, later = np.maximum(early, floor), np.maximum(later, floor)
    independent = (1 - correlation**2) / (1 + correlation**2)
    whole = count * math.log(max(sums[-1] / count, floor))
    gain = 0.5 * independent * (whole - before * np.log(early) - (count - before) * np.log(later))
    gain[later < WIDER**2 * early] = -math.inf
    best = int(np.argmax(gain))
    if gain[best] < BETTER:
        return None
    return Change(float(when[before[best]]), math.sqrt(early[best]), math.sqrt(later[best]))
