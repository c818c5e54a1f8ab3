"""Loudness of a whole signal by the weighting under test, without gates."""

import numpy as np

from throwcount.sounds.measures import k_weighted, level_of
from throwcount.sounds.samples import Samples


def ungated(samples: Samples, rate: int) -> float:
    """Return the loudness in LKFS; every channel counts the same, as left and right do."""
    power = k_weighted(samples, rate) ** 2
    return level_of(float(np.mean(power.reshape(len(samples), -1).sum(axis=1))))
