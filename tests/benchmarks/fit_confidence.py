"""Fit the chances in engine/takes/verdict.py to simulated takes of every kind.

Run it with ``python tests/benchmarks/fit_confidence.py [TAKES]`` (2,000 unless told
otherwise, which takes some minutes). It prints the weights, fitted to all takes but each third, and
what share of those left out is right in each range of sureness. The tests use other takes again.
"""

import sys
from itertools import pairwise
from pathlib import Path
from random import Random

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit

sys.path.insert(0, str(Path(__file__).parent.parent / "helpers"))

from judged_takes import any_case, judged, judged_cadence

from throwcount.engine.takes.verdict import grid_measures, measures

FIRST_SEED = 100_000
EDGES = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.97, 1.01)
HELD_BACK = 1e-3
"""How much weights are kept small, so that none grows without end where all is clear."""
LEAST_AND_MOST = 1e-9, 1 - 1e-9
"""Chances that are reckoned with, so that the logarithm of none is infinite."""

Rows = list[tuple[float, tuple[float, ...], bool]]
"""The chance of the place, the measures that tell the rest, and whether the report was right."""


def gathered(takes: int) -> tuple[Rows, Rows]:
    """Return what is known of simulated takes, against a pattern and without one."""
    against: Rows = []
    alone: Rows = []
    for seed in range(FIRST_SEED, FIRST_SEED + takes):
        case = any_case(Random(seed))
        if aligned := judged(case):
            against.append((aligned[0].certainty, measures(aligned[0]), aligned[1]))
        if found := judged_cadence(case):
            alone.append((1.0, grid_measures(found[0]), found[1]))
    return against, alone


def columns(rows: Rows) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the chances of the places, the measures and the verdicts of all rows."""
    place, values, right = zip(*rows, strict=True)
    return np.array(place), np.array(values), np.array(right)


def fitted(rows: Rows) -> np.ndarray:
    """Return a constant and the weight of each measure, of the likeliest logistic regression."""
    place, values, right = columns(rows)
    mean, sd = values.mean(axis=0), values.std(axis=0)
    standard = np.column_stack([np.ones(len(values)), (values - mean) / sd])

    def cost(weights: np.ndarray) -> float:
        chance = np.clip(place * expit(standard @ weights), *LEAST_AND_MOST)
        held = HELD_BACK * float((weights[1:] ** 2).sum())
        return -float(np.log(np.where(right, chance, 1 - chance)).mean()) + held

    weights = minimize(cost, np.zeros(standard.shape[1])).x
    slopes = weights[1:] / sd
    return np.concatenate([[weights[0] - slopes @ mean], slopes])


def main() -> None:
    """Fit and print."""
    takes = int(sys.argv[1]) if len(sys.argv) > 1 else 2_000
    for name, rows in zip(("AGAINST", "ALONE"), gathered(takes), strict=True):
        kept = [row for index, row in enumerate(rows) if index % 3]
        weights = fitted(kept)
        sys.stdout.write(f"{name} = ({', '.join(f'{weight:.2f}' for weight in weights)})\n")
        place, values, right = columns(rows[::3])
        chance = place * expit(weights[0] + values @ weights[1:])
        for low, high in pairwise(EDGES):
            inside = (chance >= low) & (chance < high)
            if inside.any():
                sys.stdout.write(
                    f"  {low:.2f} to {high:.2f}: {inside.sum():4} takes, told "
                    f"{chance[inside].mean():.2f}, right {right[inside].mean():.2f}\n"
                )


if __name__ == "__main__":
    main()
