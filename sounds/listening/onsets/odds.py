"""How sure a thud is, from how far it stands out.

Synthesised takes from rooms of six kinds (quiet, noisy, full of voices, with a long echo ...) agree
on how likely a candidate is a thud, given its score over the usual score of its take: a logistic
curve of the logarithm of this ratio.
"""

import math
import statistics
from collections import deque
from typing import Final

EVEN: Final = 2.2
STEEPNESS: Final = 10.4
"""The ratio where half of the candidates are thuds, and how quickly that changes."""

ALIKE: Final = 3.0
REMEMBERED_RATIOS: Final = 31
VERY_CONFIDENT: Final = 0.95
"""The thuds of one person are alike. Even odds are never below the median ratio of the last so many
very sure thuds, over this factor: where thuds stand out far, so does each of them."""

EXPECTED: Final = 9.0
TRUST: Final = 3
"""The ratio of thuds that is expected at first, and how many of them it counts for, so that the
first words of people who talk are not taken for thuds. The median on synthesised takes is about 7
where thuds are 10 dB above the noise, and 12 where they are 20 dB above it."""


def ratio_at(confidence: float) -> float:
    """Return the ratio at which a thud is so sure (0 to 1), where thuds stand out no farther."""
    if confidence >= 1.0:
        return math.inf
    return EVEN * math.pow(max(confidence, 0.0) / (1.0 - confidence), 1 / STEEPNESS)


class Odds:
    """Judges the candidates of a take, one after another."""

    def __init__(self) -> None:
        self._remembered: deque[float] = deque([EXPECTED] * TRUST, maxlen=REMEMBERED_RATIOS)
        self._least_remembered = ratio_at(VERY_CONFIDENT)

    def confidence(self, ratio: float) -> float:
        """Return how likely a candidate is a thud, 0 to 1.

        `ratio` is the score over the usual score, above 0.
        """
        even = max(EVEN, statistics.median(self._remembered) / ALIKE)
        if ratio >= self._least_remembered:
            self._remembered.append(ratio)
        return 1.0 / (1.0 + math.pow(ratio / even, -STEEPNESS))
