"""How soon a staircase tells a tempo, and how good that is, on simulated jugglers.

Run it with ``python tests/benchmarks/bench_staircase.py``. The rule was chosen on the jugglers of
the first seed and is judged on those of the second. The level is a juggler's chance of a clean set
at the tempo told, which should be 79.4 %; the error is what that tempo is above the right one, in
beats a minute. Both are given as mean and standard deviation.

It is compared with other steps, with three clean sets for every step up from the first set on, and
with two other methods (cited from memory): weighted up and down, a step up at every clean set and a
longer one down (Kaernbach, Perception & Psychophysics 49 (1991) 227-229); and Bayesian placement,
every set at the mean of what is known (King-Smith et al., Vision Research 34 (1994) 885-912), whose
prior holds all of these jugglers. The same Bayesian estimate is also made of the sets of the chosen
rule.
"""

import math
import random
import sys
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from statistics import mean, median, pstdev, quantiles

sys.path.insert(0, str(Path(__file__).parent.parent / "helpers"))

import numpy as np
from tempo_jugglers import LEVEL, START, TempoJuggler, practised, tempo_jugglers

from throwcount.engine.practice.tempo_rules import Rule, Staircase

CHOSEN_ON, JUDGED_ON = 1, 2
JUGGLERS = 2_000
SETS = 50
ASKED = (12, 24, 50)

Told = Iterator[float | None]
Method = Callable[[TempoJuggler, random.Random], Told]


def levitt(rule: Rule) -> Method:
    """Return the staircase of the engine."""
    return lambda juggler, luck: (each.settled for each in practised(juggler, luck, SETS, rule))


def three_from_the_first(juggler: TempoJuggler, luck: random.Random) -> Told:
    """Tell by steps of 8, 4 and 2, each after three clean sets, as if it had turned before."""
    staircase = Staircase(START, Rule(largest_step=16, smallest_step=2), reversals=(START,))
    for _ in range(SETS):
        clean = luck.random() < juggler.chance(staircase.tempo)
        staircase = staircase.after("clean" if clean else "drop")
        yield staircase.settled


def weighted(juggler: TempoJuggler, luck: random.Random) -> Told:
    """Tell the mean of four reversals and more of steps down of 16, 8 and then 4."""
    tempo, direction, reversals = START, 0, []
    for _ in range(SETS):
        now = 1 if luck.random() < juggler.chance(tempo) else -1
        if now == -direction:
            reversals.append(tempo)
        step = max(4.0, math.ldexp(16.0, -len(reversals)))
        tempo += step * (1 - LEVEL) / LEVEL if now > 0 else -step
        direction = now
        reached = reversals[2:]
        even = min(len(reached), 8) // 2 * 2
        yield mean(reached[-even:]) if even >= 4 else None


class Posterior:
    """What is known of a juggler: chances on a grid of midpoints and spreads."""

    def __init__(self) -> None:
        midpoints = START + np.arange(-60, 101, 4.0)
        self._midpoints, self._spreads = np.meshgrid(midpoints, np.linspace(4, 17, 5))
        self._wanted = self._midpoints - self._spreads * math.log(LEVEL / (1 - LEVEL))
        self._chances = np.exp(-0.5 * ((self._midpoints - START - 10) / 40) ** 2)

    def learn(self, tempo: float, *, clean: bool) -> None:
        """Take a set into account."""
        chance = 1 / (1 + np.exp((tempo - self._midpoints) / self._spreads))
        self._chances = self._chances * (chance if clean else 1 - chance)
        self._chances /= self._chances.sum()

    def told(self) -> tuple[float, float]:
        """Return the mean and the standard deviation of the tempo that is wanted."""
        middle = float((self._chances * self._wanted).sum())
        return middle, float((self._chances * (self._wanted - middle) ** 2).sum()) ** 0.5


def bayesian(juggler: TempoJuggler, luck: random.Random) -> Told:
    """Tell the mean once its standard deviation is 7 beats a minute; no step is over 16."""
    known, tempo = Posterior(), START
    for _ in range(SETS):
        known.learn(tempo, clean=luck.random() < juggler.chance(tempo))
        middle, deviation = known.told()
        tempo = min(max(round(middle), tempo - 16), tempo + 16)
        yield middle if deviation <= 7 else None


def learnt_from_levitt(juggler: TempoJuggler, luck: random.Random) -> Told:
    """Tell the Bayesian mean of the sets of the engine's staircase, once that has settled."""
    known, moods = Posterior(), practised(juggler, luck, SETS)
    for before, after in pairwise((Staircase(START), *moods)):
        clean = after.tempo > before.tempo or after.clean_in_a_row > before.clean_in_a_row
        known.learn(before.tempo, clean=clean)
        yield None if after.settled is None else known.told()[0]


METHODS: dict[str, Method] = {
    "three from the first, 8 to 2": three_from_the_first,
    "one until it turns, 8 to 2": levitt(Rule(largest_step=8, smallest_step=2)),
    "one until it turns, 16 to 2": levitt(Rule(largest_step=16, smallest_step=2)),
    "one until it turns, 16 to 8": levitt(Rule(largest_step=16, smallest_step=8)),
    "one until it turns, 24 to 6": levitt(Rule(largest_step=24, smallest_step=6)),
    "the engine's, 16 to 4": levitt(Rule()),
    "weighted up and down": weighted,
    "Bayesian": bayesian,
    "the engine's sets, Bayesian": learnt_from_levitt,
}


def columns(method: Method, seed: int) -> Iterator[str]:
    """Yield the share told, the level and the error after each number of sets."""
    told: dict[int, list[tuple[float, float]]] = {sets: [] for sets in ASKED}
    for juggler, luck in tempo_jugglers(JUGGLERS, seed):
        for sets, tempo in enumerate(method(juggler, luck), 1):
            if sets in told and tempo is not None:
                told[sets].append((100 * juggler.chance(tempo), tempo - juggler.wanted))
    for of_sets in told.values():
        share = f"{len(of_sets) / JUGGLERS:7.1%}"
        levels, errors = zip(*of_sets, strict=True) if len(of_sets) > 1 else ((), ())
        if not levels:
            yield f"{share}{'':23}"
            continue
        level = f"{mean(levels):7.1f} ±{pstdev(levels):4.1f}"
        yield f"{share}{level}{mean(errors):+6.1f} ±{pstdev(errors):3.1f}"


def likely() -> Iterator[str]:
    """Yield how many more sets it took, for each number that the staircase said."""
    left: dict[int, list[int]] = {}
    for juggler, luck in tempo_jugglers(JUGGLERS, JUDGED_ON):
        said = []
        for staircase in (Staircase(START), *practised(juggler, luck, 200)):
            if not staircase.likely_sets:
                break
            said.append(staircase.likely_sets)
        for number, sets in enumerate(said):
            left.setdefault(sets, []).append(len(said) - number)
    for sets, took in sorted(left.items()):
        eighth = quantiles(took, n=10)[7] if len(took) > 1 else took[0]
        yield f"{sets:5}{len(took):9}{mean(took):8.1f}{median(took):8.0f}{eighth:8.0f}"


def main() -> None:
    """Simulate and print."""
    for seed, what in ((CHOSEN_ON, "chosen on"), (JUDGED_ON, "judged on")):
        heads = "".join(f"{f'told by {sets}':>9}{'level':>12}{'error':>9}" for sets in ASKED)
        sys.stdout.write(f"{what:29}{heads}\n")
        for name, method in METHODS.items():
            sys.stdout.write(f"{name:29}" + "".join(columns(method, seed)) + "\n")
    sys.stdout.write(f"\n{'said':>5}{'times':>9}{'mean':>8}{'half':>8}{'80 %':>8}\n")
    sys.stdout.writelines(f"{line}\n" for line in likely())


if __name__ == "__main__":
    main()
