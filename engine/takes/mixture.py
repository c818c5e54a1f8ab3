"""A mixture model of the thuds of a take, and the pairing of sounds with thuds.

Thuds are a Poisson process whose intensity is a normal density around each expected sound, moved
by a slowly varying lead, plus a constant rate of extra onsets. It is fitted by
expectation-maximisation (Dempster, Laird & Rubin, J. Roy. Stat. Soc. B 39 (1977) 1-38): every thud
is shared between the sounds near it and the extra onsets, so that nothing is cut off at the edge
of a window and the spread comes out unbiased. The lead is a local linear regression on the
asynchronies (Cleveland, J. Amer. Stat. Assoc. 74 (1979) 829-836), with normal weights over the
sounds.

Sounds and thuds are then paired, each at most once and in order, for the largest total gain, by
dynamic programming as for aligning two sequences (Needleman & Wunsch, J. Mol. Biol. 48 (1970)
443-453). Only thuds near a sound are considered, so that time and memory are linear in the length.
"""

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np

from throwcount.engine.takes.catches import Floats, Indices, Thuds, summed

ROUNDS: Final = 100
SETTLED: Final = 3e-6
"""Iterations at most, and the change of the spread, in seconds, at which they end."""

SMALLEST_SPREAD: Final = 0.001
"""Seconds; nobody is steadier, and no detector more exact."""

FIRST_SPREAD: Final = 0.03

LEAST_HEARD: Final = 0.02
MOST_HEARD: Final = 0.995
"""Limits of the share of the sounds that are heard."""

LEAST_EXTRA_RATE: Final = 0.01
"""Extra onsets a second, at least."""

REACH: Final = 0.5
"""Seconds around an expected sound within which a thud may belong to it."""

SMOOTHED: Final = 12.0
"""Standard deviation of the normal weights that smooth the lead, in sounds."""


@dataclass(frozen=True, slots=True, eq=False)
class Near:
    """All pairs of a sound and a thud within reach of it, in order of the sound, then the thud."""

    sound: Indices
    """The index of each pair's sound."""
    thud: Indices
    """The index of each pair's thud."""
    late: Floats
    """Seconds from the expected time of the sound to the thud."""


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """A fitted mixture."""

    near: Near
    """The pairs of sounds and thuds."""
    share: Floats
    """For each pair, the share of the thud that belongs to the sound, 0 to 1."""
    lead: Floats
    """For each sound, the expected asynchrony, in seconds."""
    spread: float
    """The standard deviation of the thuds about the lead, in seconds."""
    heard: float
    """The share of the sounds that are heard, 0 to 1."""
    extra_rate: float
    """Extra onsets a second."""
    extra_confidence: float
    """The sum of their confidence, a second."""


def near_pairs(sounds: Floats, thuds: Floats, lead: Floats, reach: float = REACH) -> Near:
    """Return all pairs of a sound, moved by its lead, and a thud within `reach` seconds of it."""
    moved = sounds + lead
    first = np.searchsorted(thuds, moved - reach)
    number = np.maximum(np.searchsorted(thuds, moved + reach) - first, 0)
    sound = np.repeat(np.arange(len(sounds)), number)
    rank = np.arange(len(sound)) - np.repeat(np.cumsum(number) - number, number)
    thud = np.repeat(first, number) + rank
    return Near(sound, thud, thuds[thud] - sounds[sound])


def fit(sounds: Floats, thuds: Thuds, lead: Floats, rounds: int = ROUNDS) -> Mixture:
    """Return the mixture that fits best, starting from a lead that is roughly right.

    `sounds` holds the expected times, in order, at least one. `lead` is a first guess for each
    sound. `rounds` limits the iterations.
    """
    near = near_pairs(sounds, thuds.times, lead)
    weights = thuds.weights[near.thud]
    start, end = sounds[0] + lead[0] - REACH, sounds[-1] + lead[-1] + REACH
    there, span = thuds.between(start, end), end - start
    heard, extra_rate = 0.95, max(LEAST_EXTRA_RATE, 0.05 * len(there) / span)
    smooth = _Smoothing(sounds)
    share, spread = np.zeros(len(near.late)), FIRST_SPREAD
    for _ in range(rounds):
        bump = bumps(near.late - lead[near.sound], spread) * weights * heard
        intensity = extra_rate + summed(bump, near.thud, len(thuds))
        share = bump / intensity[near.thud]
        of_sound = summed(share, near.sound, len(sounds))
        mass = float(of_sound.sum())
        if mass < 1:
            break
        lead = smooth(of_sound, summed(share * near.late, near.sound, len(sounds)), lead)
        off = near.late - lead[near.sound]
        mean_square = float((share * off * off).sum() / share.sum()) / smooth.freedom
        before, spread = spread, max(float(np.sqrt(mean_square)), SMALLEST_SPREAD)
        heard = min(max(mass / len(sounds), LEAST_HEARD), MOST_HEARD)
        extra_rate = max((len(there) - mass) / span, LEAST_EXTRA_RATE)
        if abs(spread - before) < SETTLED:
            break
    extra = float(there.confidence.sum() - (share * thuds.confidence[near.thud]).sum()) / span
    return Mixture(near, share, lead, spread, heard, extra_rate, max(extra, LEAST_EXTRA_RATE))


def bumps(late: Floats, spread: float | Floats) -> Floats:
    """Return the normal density, per second, of thuds that are `late` by these seconds."""
    off = late / spread
    density: Floats = np.exp(-0.5 * off * off) / (spread * np.sqrt(2 * np.pi))
    return density


class _Smoothing:
    """A local linear regression on the asynchronies, with normal weights over the sounds."""

    def __init__(self, sounds: Floats) -> None:
        half = min(int(4 * SMOOTHED), len(sounds) - 1)
        steps = np.arange(-half, half + 1)
        weights = np.exp(-0.5 * (steps / SMOOTHED) ** 2)
        self._kernels: list[Floats] = [weights * steps**power for power in range(3)]
        # Each value has a share in its own smoothed value, which lowers the variance by as much.
        share = 1 / (SMOOTHED * 2 * np.sqrt(np.pi)) + 1 / max(len(sounds), 2)
        self.freedom = 1 - min(share, 0.5)

    def __call__(self, weight: Floats, late: Floats, before: Floats) -> Floats:
        one, first, second = (self._over(weight, kernel) for kernel in self._kernels)
        sum_late, moved_late = (self._over(late, kernel) for kernel in self._kernels[:2])
        steady = one * second - first * first
        known = one > 1
        tilted = known & (steady > 1e-3 * one * second)
        line = (second * sum_late - first * moved_late) / np.where(tilted, steady, 1)
        level = sum_late / np.where(known, one, 1)
        result: Floats = np.where(tilted, line, np.where(known, level, before))
        return result

    @staticmethod
    def _over(values: Floats, kernel: Floats) -> Floats:
        half = len(kernel) // 2
        # Correlation, not convolution, as the steps of a kernel count from the smoothed sound.
        result: Floats = np.correlate(values, kernel, "full")[half : half + len(values)]
        return result


Choice: TypeAlias = tuple[int, int, float]
"""A sound, a thud, and the gain from pairing them, in nats, more than 0."""


def choices(mixture: Mixture, weights: Floats) -> list[Choice]:
    """Return the pairs that are likelier to belong together than to be a miss and an extra onset.

    `weights` are those of the thuds, more than 0.
    """
    near = mixture.near
    off = (near.late - mixture.lead[near.sound]) / mixture.spread
    peak = mixture.heard / ((1 - mixture.heard) * mixture.extra_rate)
    peak /= mixture.spread * math.sqrt(2 * math.pi)
    gain = math.log(peak) + np.log(weights[near.thud]) - 0.5 * off * off
    worth = gain > 0
    columns = near.sound[worth], near.thud[worth], gain[worth]
    return list(zip(*(column.tolist() for column in columns), strict=True))


def pair_up(choices: Sequence[Choice]) -> list[tuple[int, int]]:
    """Return the pairs of a sound and a thud with the largest total gain, in order.

    `choices` are in order of the sound and then of the thud; neither the first nor the last thud of
    a sound is earlier than that of the sound before.
    """
    ends = _Ends()
    before: list[int] = []
    start = 0
    while start < len(choices):
        stop = start
        while stop < len(choices) and choices[stop][0] == choices[start][0]:
            stop += 1
        fresh = []
        for index in range(start, stop):
            _, thud, gain = choices[index]
            gained, last = ends.best_before(thud)
            before.append(last)
            fresh.append((thud, gained + gain, index))
        for end in fresh:
            ends.keep(*end)
        start = stop
    pairs = []
    index = ends.best
    while index >= 0:
        pairs.append(choices[index][:2])
        index = before[index]
    return pairs[::-1]


def paired(mixture: Mixture, weights: Floats) -> tuple[int | None, ...]:
    """Return the thud of each sound; None where none is. `weights` are those of the thuds."""
    pairs = dict(pair_up(choices(mixture, weights)))
    return tuple(pairs.get(index) for index in range(len(mixture.lead)))


class _Ends:
    """The largest gain of a pairing for each thud that it may end with.

    Only pairings that gain more than all that end earlier are kept, so thuds and gains both rise.
    """

    def __init__(self) -> None:
        self._thuds = [-1]
        self._gains = [0.0]
        self._choices = [-1]

    @property
    def best(self) -> int:
        """The last choice of the best pairing, -1 for none."""
        return self._choices[-1]

    def best_before(self, thud: int) -> tuple[float, int]:
        """Return the gain and the last choice of the best pairing that ends before `thud`."""
        at = bisect_left(self._thuds, thud) - 1
        return self._gains[at], self._choices[at]

    def keep(self, thud: int, gain: float, choice: int) -> None:
        """Keep a pairing unless one that ends as early gains as much; drop those that it beats."""
        at = bisect_left(self._thuds, thud)
        if self._gains[at - 1] >= gain or (
            at < len(self._thuds) and self._thuds[at] == thud and self._gains[at] >= gain
        ):
            return
        beaten = at
        while beaten < len(self._thuds) and self._gains[beaten] <= gain:
            beaten += 1
        self._thuds[at:beaten] = [thud]
        self._gains[at:beaten] = [gain]
        self._choices[at:beaten] = [choice]
