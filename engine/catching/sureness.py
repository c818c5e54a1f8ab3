"""How sure a report is, as a chance that means something, and what it cannot tell.

A report against expected catches is *right* if at least nine in ten of the thuds that it takes for
catches are of the catch, or the catches together, that it takes them for, and if its sd of the
asynchronies lies within 3 ms or 10 % of the true one. A report without them is right if in nine
windows in ten the rate of catches is within 2 % of the true one.

The chances are logistic regressions on a few plain measures, fitted to simulated takes of many
kinds: patterns, tempos and steadiness at random, from clean ones to some with more extra thuds than
catches, cut off at both ends, or with nothing but noise on them (`tests/benchmarks/fit_sureness.py`
fits them anew). Against expected catches this is the chance that all is right at the place that was
found, so that it is taken times the chance of the place: nothing that is a beat out is right.
"""

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from engine.catching.alignment import Aligned
from engine.catching.cadence import GridTempo

AGAINST: Final = (-6.20, 0.59, 3.77, 0.76, -21.07)
"""A constant, and the weight of each measure of `measures`."""

ALONE: Final = (-2.36, -0.10, 5.09, -103.34, 0.34)
"""The same for `grid_measures`."""


def confidence_of(aligned: Aligned) -> float:
    """Return the chance that what is told of these catches is right, 0 to 1."""
    return aligned.certainty * _logistic(AGAINST, measures(aligned))


def confidence_of_grid(found: Sequence[GridTempo]) -> float:
    """Return the chance that this cadence is right, 0 to 1."""
    return _logistic(ALONE, grid_measures(found))


def measures(aligned: Aligned) -> tuple[float, ...]:
    """Return what the confidence of an alignment depends on, if its place is right.

    How much likelier a thud in place is than a stray there, in nats; the share heard; the logarithm
    of their number; and the spread, as a share of the time between two sounds.
    """
    mixture = aligned.mixture
    heard = sum(thud is not None for thud in aligned.thud)
    peak = mixture.heard / (mixture.extra_rate * mixture.spread * math.sqrt(2 * math.pi))
    gap = float(np.median(np.diff(aligned.expected))) if len(aligned.expected) > 1 else math.inf
    return (
        min(max(math.log(peak), 0.0), 8.0),
        heard / len(aligned.thud),
        math.log1p(heard),
        min(mixture.spread / gap, 1.0),
    )


def grid_measures(found: Sequence[GridTempo]) -> tuple[float, ...]:
    """Return what the confidence of a cadence depends on.

    How well thuds keep in step, in the mean; how surely not by chance; how much the rate changes
    from window to window; and the logarithm of the number of thuds in all windows.
    """
    steps = np.abs(np.diff(np.log([each.rate for each in found])))
    return (
        float(np.mean([each.in_step for each in found])),
        float(np.mean([each.confidence for each in found])),
        float(np.mean(np.minimum(steps, 0.1))) if len(steps) else 0.0,
        math.log1p(sum(each.thuds for each in found)),
    )


def _logistic(weights: Sequence[float], values: Sequence[float]) -> float:
    total = weights[0] + math.fsum(
        weight * value for weight, value in zip(weights[1:], values, strict=True)
    )
    return 1 / (1 + math.exp(-min(max(total, -30.0), 30.0)))
