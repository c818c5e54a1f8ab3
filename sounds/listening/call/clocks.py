"""The clock of a call and the clock of a take: two that run evenly, but not alike."""

from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

Floats: TypeAlias = npt.NDArray[np.float64]

USUAL_DRIFT: Final = 100.0
"""Standard deviation of the drift between two machines, in parts in a million: what is believed
where a take is too short to tell."""

OUTLIER: Final = 3.0
"""Deviations from the line, in robust standard deviations, from which on a moment counts less."""

ROUNDS: Final = 10


@dataclass(frozen=True, slots=True)
class Clocks:
    """How the clocks of a call and of a take run: take = delay + call (1 + drift)."""

    delay: float
    """Take time of the call's time 0, in seconds; may be negative."""
    drift: float
    """How much faster the take's clock ran, in parts in a million."""

    def take_time(self, seconds: float) -> float:
        """Return the take's time of a moment in the call's time."""
        return self.delay + seconds * (1 + self.drift * 1e-6)

    def call_time(self, seconds: float) -> float:
        """Return the call's time of a moment in the take's time."""
        return (seconds - self.delay) / (1 + self.drift * 1e-6)


def fitted(call_times: Floats, take_times: Floats, uncertainties: Floats) -> Clocks:
    """Return the clocks that moments on both of them speak for.

    The line of least squares, with moments that are far from it counting less (Huber, Robust
    estimation of a location parameter, Ann. Math. Stat. 35, 1964), and with `USUAL_DRIFT` believed
    beforehand.

    `call_times` and `take_times` are the same moments, in seconds; at least one. `uncertainties`
    are the standard deviations of each difference, in seconds, if there are no outliers.
    """
    ahead = take_times - call_times
    exact = uncertainties**-2.0
    weights = exact
    for _ in range(ROUNDS):
        middle = float(np.average(call_times, weights=weights))
        mean = float(np.average(ahead, weights=weights))
        apart = call_times - middle
        believed = (USUAL_DRIFT * 1e-6) ** -2.0
        slope = float(weights @ (apart * (ahead - mean)) / (weights @ apart**2 + believed))
        errors = np.abs(ahead - mean - slope * apart) / uncertainties
        usual = max(1.4826 * float(np.median(errors)), 1.0)
        weights = exact * np.minimum(1.0, OUTLIER * usual / np.maximum(errors, 1e-12))
    return Clocks(mean - slope * middle, slope * 1e6)
