"""Timbre: whether a thud sounds like the catches of its take, or like a floor, a step or a voice.

Catches of one take sound alike, more or less: the same objects in the same hands, heard from the
same place. The levels of a thud in the bands of its detector are compared with two normal
distributions, one of the catches and one of all thuds, each widened by what a level is uncertain
by. The difference of the log densities, in a logistic regression (Cox, J. R. Stat. Soc. B 20 (1958)
215-242), gives the factor by which its sound changes the odds that a thud is a catch.
"""

from dataclasses import replace
from typing import Final

import numpy as np

from throwcount.engine.takes.catches import Floats, Thuds

UNCERTAIN: Final = 16.0
"""The variance of a level, in square dB, in addition to that of the thuds that are compared."""

SLOPE: Final = 1.9
CONSTANT: Final = 1.2
"""The logistic regression, fitted to made takes of recorded impacts in which no two catches are
alike (`tests/benchmarks/fit_confidence.py`)."""

LEAST: Final = -3.0
MOST: Final = 2.0
"""Limits of the log odds, in nats, as a normal distribution tells little of what is far away."""

LEAST_LEFT: Final = 0.2
"""What its distance is divided by at least, as a thud draws the distribution to itself."""

FEWEST: Final = 15.0
"""Catches, at least, that tell what catches sound like."""


def with_timbre(thuds: Thuds, share: Floats) -> Thuds:
    """Return the thuds with how much each sounds like a catch.

    `share` is the probability that each thud is a catch, by its time, 0 to 1. Where these are too
    few, or bands are not known, the thuds are returned as they are.
    """
    if thuds.bands is None or share.sum() < FEWEST:
        return thuds
    return replace(thuds, likeness=np.exp(catch_nats(thuds.bands, share)))


def catch_nats(bands: Floats, share: Floats) -> Floats:
    """Return by how much its sound raises the log odds, in nats, that each thud is a catch."""
    return np.clip(SLOPE * nats_among(bands, share) + CONSTANT, LEAST, MOST)


def nats_among(bands: Floats, share: Floats) -> Floats:
    """Return how much denser, in nats, catches are around each thud than all thuds are."""
    return density_nats(bands, share) - density_nats(bands, np.ones(len(bands)))


def density_nats(bands: Floats, share: Floats) -> Floats:
    """Return the log density at each thud of all of them, which count by their share.

    `bands` has the shape (thuds, bands), in dB. A constant is left out.
    """
    total = share.sum()
    off = bands - share @ bands / total
    spread = (off.T * share) @ off / total + UNCERTAIN * np.eye(bands.shape[1])
    root = np.linalg.cholesky(spread)
    squares = (np.linalg.solve(root, off.T) ** 2).sum(axis=0)
    # A thud of its own share draws the distribution towards it (Sherman & Morrison's formula).
    squares /= np.maximum(1 - share * squares / total, LEAST_LEFT)
    nats: Floats = -0.5 * squares - float(np.log(np.diag(root)).sum())
    return nats
