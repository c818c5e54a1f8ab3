"""The thuds of a take, as they come from a detector and as arrays."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Protocol, TypeAlias

import numpy as np
import numpy.typing as npt

Floats: TypeAlias = npt.NDArray[np.float64]
Indices: TypeAlias = npt.NDArray[np.int64]

LEAST_WEIGHT: Final = 0.05
"""The weight of a thud that the detector is least sure of."""


class HeardOnset(Protocol):
    """A thud as a detector tells it."""

    @property
    def time(self) -> float:
        """Seconds from the start of the take."""

    @property
    def confidence(self) -> float:
        """How surely it is one, 0 to 1."""


@dataclass(frozen=True, slots=True, eq=False)
class Thuds:
    """All thuds of a take, or some."""

    times: Floats
    """When each begins, in seconds of the take, in order."""
    weights: Floats
    """How much each counts, more than 0, at most 1: 1 for one as sure as they usually are."""

    def __len__(self) -> int:
        return len(self.times)

    def between(self, start: float, end: float) -> "Thuds":
        """Return those from `start` to `end`, in seconds."""
        first, last = np.searchsorted(self.times, [start, end])
        return Thuds(self.times[first:last], self.weights[first:last])


def thuds_of(heard: Sequence[HeardOnset]) -> Thuds:
    """Return thuds as arrays, in order of time."""
    order = sorted(heard, key=lambda thud: thud.time)
    confidence = np.array([thud.confidence for thud in order], dtype=np.float64)
    usual = float(np.median(confidence)) if order else 0.0
    weights = np.clip(confidence / usual, LEAST_WEIGHT, 1.0) if usual > 0 else np.ones(len(order))
    return Thuds(np.array([thud.time for thud in order], dtype=np.float64), weights)


def summed(values: Floats, places: Indices, count: int) -> Floats:
    """Return the sum of the values at each of `count` places."""
    return np.bincount(places, values, count).astype(np.float64, copy=False)
