"""Fit the odds in engine/takes/verdict.py to simulated takes and to those of recorded impacts.

Run it with ``python tests/benchmarks/fit_confidence.py [TAKES]`` (2,000 unless told otherwise,
which takes some minutes). It prints the weights, with the call on the take, without it, and without
a pattern. They are fitted to all simulated takes but each third, and without a pattern to the parts
of the bank that are worked on (`bench_listening.py`), too. It prints what share of those left out
is right in each range of confidence. The tests use other takes again, and the bank's last part is
for the end. What a sound tells, in engine/takes/timbre.py, is fitted to the bank only, as simulated
thuds have none.
"""

import sys
from itertools import chain, pairwise
from pathlib import Path
from random import Random

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit, log_expit, logit

sys.path[:0] = [str(Path(__file__).parent.parent / "helpers"), str(Path(__file__).parent)]

from bank_takes import BankTake, bank  # noqa: E402
from bench_listening import NEAR_TRUTH, WORKED_ON, expected, kept  # noqa: E402
from judged_takes import (  # noqa: E402
    NEAR_RATE,
    NEAR_SD,
    PAIRED_RIGHT,
    UNEVEN_SHARE,
    any_case,
    judged,
    judged_cadence,
)

from throwcount.caller.reports.take import BLOCK, LEAST_CONFIDENCE  # noqa: E402
from throwcount.engine.takes.alignment import Aligned, align, align_to_cadence  # noqa: E402
from throwcount.engine.takes.beat_grid import grid_tempos  # noqa: E402
from throwcount.engine.takes.catches import thuds_of  # noqa: E402
from throwcount.engine.takes.hindrances import unhindered  # noqa: E402
from throwcount.engine.takes.report import without_stops  # noqa: E402
from throwcount.engine.takes.steadiness import residuals, steadiness  # noqa: E402
from throwcount.engine.takes.timbre import nats_among, with_timbre  # noqa: E402
from throwcount.engine.takes.verdict import measures  # noqa: E402
from throwcount.sounds.listening.take import open_take  # noqa: E402
from throwcount.sounds.listening.thuds import find_thuds  # noqa: E402
from throwcount.sounds.samples import RATE  # noqa: E402

FIRST_SEED = 100_000
EDGES = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.97, 1.01)
HELD_BACK = 1e-3
"""How much weights are kept small, so that none grows without end where all is clear."""
LEAST_AND_MOST = 1e-9, 1 - 1e-9
"""Chances that are reckoned with, so that the logarithm of none is infinite."""

A_CATCH_IN_TWO_BEATS = ("(4,4)", "51")
LEFT_BY_A_DROP = 2 / 3
"""The share of a take's windows in which a pattern that ends in a drop is thrown, at least."""

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
            alone.append((1.0, measures(found[0]), found[1]))
    return called, against, alone


def of_the_bank() -> tuple[Rows, list[np.ndarray]]:
    """Return the same of the bank's takes that are worked on, as they are heard without a pattern.

    With it comes what `_timbre` gives of each.
    """
    alone: Rows = []
    timbre: list[np.ndarray] = []
    for take in chain.from_iterable(map(bank, WORKED_ON)):
        if take.plan.happening == "clicks":
            continue
        if row := _alone(take):
            alone.append(row)
        heard = kept(take)
        placed = heard.clocks is not None
        thuds = unhindered(thuds_of(heard.thuds), (), placed=placed)[0]
        aligned = align(expected(take, heard), thuds, heard.seconds, placed=placed)
        if aligned and with_timbre(thuds, aligned.catch_share) is not thuds:
            timbre.append(_timbre(take, aligned))
    return alone, timbre


def _timbre(take: BankTake, aligned: Aligned) -> np.ndarray:
    """Return how much the sound of each thud is among those of catches, and whether it is one."""
    made = np.array(sorted(take.made().values()))
    thuds, share = aligned.thuds, aligned.catch_share
    assert thuds.bands is not None
    off = np.abs(thuds.times[:, np.newaxis] - made).min(axis=1)
    return np.stack([nats_among(thuds.bands, share), off < NEAR_TRUTH])


def _alone(take: BankTake) -> tuple[float, tuple[float, ...], bool] | None:
    """Return the same of a take as it is heard without a pattern and without what was played."""
    plan = take.plan
    with open_take(take.path) as opened:
        thuds = thuds_of(list(find_thuds(opened.blocks(BLOCK), RATE, LEAST_CONFIDENCE)))
    thuds = unhindered(thuds, (), placed=False)[0]
    found = align_to_cadence(thuds)
    if found is None:
        return None
    aligned, _ = without_stops(found[0])
    about = residuals(aligned)
    if about is None:
        return None
    asked = plan.bpm / (1 + plan.pace) * (0.5 if plan.pattern in A_CATCH_IN_TWO_BEATS else 1.0)
    windows = grid_tempos(thuds.times.tolist())
    near = sum(abs(window.rate / asked - 1) <= NEAR_RATE for window in windows)
    # Where a drop ends it, nothing is thrown in the last windows.
    whole = len(windows) if plan.drop is None else LEFT_BY_A_DROP * len(windows)
    even = steadiness(aligned, about).asynchrony_sd <= (1 + UNEVEN_SHARE) * plan.sd + NEAR_SD
    return 1.0, measures(aligned), even and near >= PAIRED_RIGHT * whole


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


def of_sound(timbre: list[np.ndarray]) -> np.ndarray:
    """Return the slope and the constant of the likeliest logistic regression on the sound.

    The constant is what changes the odds, without those of all thuds together.
    """
    among, is_catch = np.concatenate(timbre, axis=1)
    sign = 2 * is_catch - 1

    def cost(line: np.ndarray) -> float:
        return -float(log_expit(sign * (line[0] * among + line[1])).mean())

    return np.asarray(minimize(cost, np.zeros(2)).x - [0, logit(is_catch.mean())])


def main() -> None:
    """Fit and print."""
    takes = int(sys.argv[1]) if len(sys.argv) > 1 else 2_000
    names = ("CALLED", "AGAINST", "ALONE")
    alone, timbre = of_the_bank()
    sys.stdout.write("SLOPE, CONSTANT = {:.2f}, {:.2f}\n".format(*of_sound(timbre)))
    for name, rows, banked in zip(names, gathered(takes), ([], [], alone), strict=True):
        weights = fitted([row for index, row in enumerate(rows) if index % 3] + banked)
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
