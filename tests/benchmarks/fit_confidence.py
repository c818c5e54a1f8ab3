"""Fit the chances in engine/takes/verdict.py to simulated takes and to those of recorded impacts.

Run it with ``python tests/benchmarks/fit_confidence.py [TAKES]`` (2,000 unless told
otherwise, which takes some minutes). It prints the weights, with the call on the take, without it,
and without a pattern. They are fitted to all simulated takes but each third, and to the part "work"
of the bank (`bench_listening.py`), where there are some, which counts `BANK` times. It prints, too,
what share of those left out is right in each range of sureness. The tests use other takes again,
and the bank's other part is for the end.
"""

import sys
from itertools import pairwise
from pathlib import Path
from random import Random

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit

sys.path[:0] = [str(Path(__file__).parent.parent / "helpers"), str(Path(__file__).parent)]

from bank_takes import bank  # noqa: E402
from bench_listening import expected, kept  # noqa: E402
from bench_listening import judged as judged_of_bank  # noqa: E402
from judged_takes import any_case, judged, judged_cadence  # noqa: E402

from throwcount.engine.takes.alignment import align  # noqa: E402
from throwcount.engine.takes.catches import thuds_of  # noqa: E402
from throwcount.engine.takes.hindrances import unhindered  # noqa: E402
from throwcount.engine.takes.report import settled  # noqa: E402
from throwcount.engine.takes.verdict import grid_measures, measures  # noqa: E402

FIRST_SEED = 100_000
EDGES = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.97, 1.01)
HELD_BACK = 1e-3
"""How much weights are kept small, so that none grows without end where all is clear."""
LEAST_AND_MOST = 1e-9, 1 - 1e-9
"""Chances that are reckoned with, so that the logarithm of none is infinite."""

BANK = 4
"""How often a take of recorded impacts counts."""

Rows = list[tuple[float, tuple[float, ...], bool]]
"""The chance of the place, the measures that tell the rest, and whether the report was right."""


def gathered(takes: int) -> tuple[Rows, Rows, Rows]:
    """Return what is known of simulated takes: with the call, without it, without a pattern."""
    called: Rows = []
    against: Rows = []
    alone: Rows = []
    for seed in range(FIRST_SEED, FIRST_SEED + takes):
        case = any_case(Random(seed))
        if aligned := judged(case):
            rows = called if aligned[0].placed else against
            rows.append((aligned[0].certainty, measures(aligned[0]), aligned[1]))
        if found := judged_cadence(case):
            alone.append((1.0, grid_measures(found[0]), found[1]))
    return called, against, alone


def of_the_bank() -> tuple[Rows, Rows, Rows]:
    """Return the same of the bank's takes that are worked on."""
    called: Rows = []
    against: Rows = []
    for take in bank("work"):
        heard = kept(take)
        placed = heard.clocks is not None
        thuds = unhindered(thuds_of(heard.thuds), (), placed=placed)[0]
        aligned = align(expected(take, heard), thuds, heard.seconds, placed=placed)
        if aligned is not None and take.plan.happening != "clicks":
            aligned, _ = settled(aligned)
            sure = heard.clocks.confidence if heard.clocks and heard.clocks.is_doubtful else 1.0
            row = aligned.certainty * sure, measures(aligned), judged_of_bank(take, heard).right
            (called if placed else against).append(row)
    return called, against, []


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
    names = ("CALLED", "AGAINST", "ALONE")
    for name, rows, banked in zip(names, gathered(takes), of_the_bank(), strict=True):
        weights = fitted([row for index, row in enumerate(rows) if index % 3] + banked * BANK)
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
