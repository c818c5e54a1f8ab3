"""Which catches are late: the right hand against the left, each throw of the cycle against all.

The mixture is fitted once more with a mean and a spread for each kind of catch, so that a kind
which is wider than the others is not cut short. The lead, and what changes slowly, is left out.

Of catches that make one sound mostly the first is heard, now and then only the last, so that the
sound seems early or late where no catch is. Where others are heard alone, throws are held against
those, and nothing is made of a sound of several.

Catches that the one before hides, and how much later they seem for it.

A thud is not heard if it follows on another too closely. So of catches that fall due soon after
others those are heard that come late, and throws would seem late that are not. Let both be normal
about when they are due, with the sd s, and the second due m after the first. It is heard if it
comes more than h after it, and is then later in the mean by

    s / sqrt 2 * f(a) / F(a),    a = (m - h) / (s sqrt 2)

where f and F are the density and the distribution of a normal variable: the mean of a normal
distribution of which one end is cut off (Johnson, Kotz & Balakrishnan, Continuous Univariate
Distributions 1, Wiley 1994, section 13.10.1).
"""

import math
from collections import Counter
from collections.abc import Collection, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Final, TypeAlias, TypeVar

import numpy as np

from throwcount.engine.takes.alignment import Aligned
from throwcount.engine.takes.catches import Floats, Indices, summed
from throwcount.engine.takes.mixture import SMALLEST_SPREAD, bumps

MASKED_SECONDS: Final = 0.046
"""Seconds after a thud in which no other is heard, as measured with thuds as loud as each other."""

FAR: Final = 4.0
"""Spreads beyond these seconds from which on next to nothing is masked."""

NORMAL: Final = NormalDist()


def masking_delay(due: Floats, spread: float) -> Floats:
    """Return how much later each sound is heard, in the mean, for being masked now and then.

    `due` is when each usually comes, in seconds; nearly in order. `spread` is the sd of each around
    that, in seconds, more than 0.
    """
    later = np.zeros(len(due))
    off = (np.diff(due) - MASKED_SECONDS) / (spread * math.sqrt(2))
    for index in np.flatnonzero(off < FAR).tolist():
        # Further off nothing is left of the bell to reckon with.
        at = max(float(off[index]), -FAR)
        later[index + 1] = spread / math.sqrt(2) * NORMAL.pdf(at) / NORMAL.cdf(at)
    return later


FEWEST: Final = 8
"""Catches of a kind that tell anything of it."""

ROUNDS: Final = 25
"""Steps by which the kinds are fitted."""

SETTLING: Final = 3
"""Steps by which the means and what they owe to masked catches are found."""

PRIOR: Final = 2.0
"""Catches' worth of the overall spread in the spread of each kind."""

HANDS: Final = ("right", "left")

Throws: TypeAlias = tuple[tuple[str, int | None, str], ...]
"""The throws whose catches make one sound: part, place in the cycle, and notation of each."""

Kind = TypeVar("Kind", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Spread:
    """Asynchronies of some catches."""

    heard: int
    """How many of them were heard."""
    expected: int
    """How many were expected, heard or not."""
    mean: float
    """How late they are in the mean, in seconds, against all catches around; below
    zero is early."""
    sd: float
    """Standard deviation about that mean and what changes slowly, in seconds."""
    uncertainty: float
    """The standard error of the mean, in seconds, as if each catch were independent, and what is
    uncertain of the catches that others hide."""


@dataclass(frozen=True, slots=True)
class HandBias:
    """The right hand against the left."""

    right: Spread
    """The catches of the right hand."""
    left: Spread
    """The catches of the left hand."""
    difference: float
    """The mean of the right less that of the left, in seconds: above zero, the right is later."""
    uncertainty: float
    """Its standard error, in seconds."""


@dataclass(frozen=True, slots=True)
class Position:
    """One throw of the cycle, or several whose catches fall together."""

    part: str
    """The part that it belongs to."""
    cycle_beats: tuple[int | None, ...]
    """Where in the cycle each is thrown, from zero; None outside the parts."""
    throws: tuple[str, ...]
    """Each in notation, such as "4x"."""
    spread: Spread
    """How late and how steadily it is caught, against those that are comparable."""
    comparable: bool
    """Whether it can be told from its sounds that it is late: not where several catches make one
    sound and those of other throws are heard alone."""


def hand_bias(aligned: Aligned) -> HandBias | None:
    """Return the right hand against the left; None where one of them cannot be told."""
    kinds = [
        (frozenset(aligned.catches[catch].hand for catch in sound), len(sound) > 1)
        for sound in aligned.sounds
    ]
    spreads = _unmasked(aligned, kinds, _spreads(aligned, kinds))
    for several in (False, True):
        right, left = (spreads.get((frozenset({hand}), several)) for hand in HANDS)
        if right and left and min(right.heard, left.heard) >= FEWEST:
            break
    else:
        return None
    uncertainty = math.hypot(right.uncertainty, left.uncertainty)
    return HandBias(right, left, right.mean - left.mean, uncertainty)


@dataclass(frozen=True, slots=True)
class Cycle:
    """How late each throw of the cycle is, as it was heard."""

    kinds: Sequence[Throws]
    """The parts, places in the cycle and throws of each sound's catches; none where no
    pattern is known."""
    spreads: Mapping[Throws, Spread]
    """The asynchronies of each kind of which one was heard."""


def cycle_of(aligned: Aligned) -> Cycle:
    """Return how late each throw of the cycle is."""
    kinds = _kinds(aligned)
    return Cycle(kinds, _spreads(aligned, kinds) if kinds else {})


def positions(aligned: Aligned, cycle: Cycle) -> tuple[Position, ...]:
    """Return each throw of the cycle that was heard, in order of part and cycle."""
    kinds = cycle.kinds
    if not kinds:
        return ()
    parts = list(dict.fromkeys(kind[0][0] for kind in kinds))
    spreads = _unmasked(aligned, kinds, cycle.spreads)
    alone = _alone(aligned, kinds, spreads)
    middle = _middle([spreads[kind] for kind in alone])
    rows = [
        Position(
            part=kind[0][0],
            cycle_beats=tuple(cycle_beat for _, cycle_beat, _ in kind),
            throws=tuple(throw for _, _, throw in kind),
            spread=replace(spread, mean=spread.mean - middle),
            comparable=kind in alone,
        )
        for kind, spread in spreads.items()
    ]
    return tuple(
        sorted(
            rows,
            key=lambda row: (
                parts.index(row.part),
                [-1 if beat is None else beat for beat in row.cycle_beats],
                row.throws,
            ),
        )
    )


def _unmasked(
    aligned: Aligned, kinds: Sequence[Kind], spreads: Mapping[Kind, Spread]
) -> dict[Kind, Spread]:
    """Return the spread of each kind, but for what its mean owes to catches that are masked.

    Half of that is taken for uncertain, as a loud thud hides more than a soft one.
    """
    seems = dict.fromkeys(spreads, 0.0)
    number = Counter(kinds)
    for _ in range(SETTLING):
        means = [spreads[kind].mean - seems[kind] if kind in spreads else 0.0 for kind in kinds]
        later = masking_delay(aligned.expected + np.array(means), aligned.mixture.spread)
        seems = dict.fromkeys(spreads, 0.0)
        for kind, each in zip(kinds, later.tolist(), strict=True):
            if kind in seems:
                seems[kind] += each / number[kind]
    return {
        kind: replace(
            spread,
            mean=spread.mean - seems[kind],
            uncertainty=math.hypot(spread.uncertainty, seems[kind] / 2),
        )
        for kind, spread in spreads.items()
    }


def _alone(
    aligned: Aligned, kinds: Sequence[Kind], spreads: Mapping[Kind, Spread]
) -> Collection[Kind]:
    """Return the kinds of throw whose catches are heard alone; all where there are hardly any."""
    several = Counter(
        kind for kind, sound in zip(kinds, aligned.sounds, strict=True) if len(sound) > 1
    )
    alone = [kind for kind, spread in spreads.items() if several[kind] < spread.expected / 2]
    heard = any(spreads[kind].heard >= FEWEST for kind in alone)
    return alone if heard else list(spreads)


def _middle(spreads: Sequence[Spread]) -> float:
    """Return the mean of all, each by the number of catches that its uncertainty is worth."""
    worth = [(spread.sd / spread.uncertainty) ** 2 for spread in spreads]
    return math.fsum(s.mean * own for s, own in zip(spreads, worth, strict=True)) / (
        sum(worth) or 1
    )


def throw_bias(aligned: Aligned, cycle: Cycle) -> Floats:
    """Return how late each sound is for its place in the cycle, in seconds, against all around.

    Zero where no pattern is known, and for kinds of which too few were heard.
    """
    if not cycle.kinds:
        return np.zeros(len(aligned.expected))
    means = {kind: each.mean for kind, each in cycle.spreads.items() if each.heard >= FEWEST}
    return np.array([means.get(kind, 0.0) for kind in cycle.kinds])


def _kinds(aligned: Aligned) -> list[Throws]:
    """Return of each sound its throws; nothing where no pattern is known."""
    return [
        tuple(
            sorted(
                {(catch.part, catch.cycle_beat, catch.throw) for catch in catches},
                key=lambda each: (-1 if each[1] is None else each[1], each[2]),
            )
        )
        for sound in aligned.sounds
        if (catches := [aligned.catches[index] for index in sound])
    ]


def _spreads(aligned: Aligned, kinds: Sequence[Kind]) -> dict[Kind, Spread]:
    """Return the spread of each kind of sound of which one was heard."""
    names = list(dict.fromkeys(kinds))
    places = {name: place for place, name in enumerate(names)}
    of_sound = np.array([places[kind] for kind in kinds])
    mass, mean, sd = _fitted(aligned, of_sound, len(names))
    heard = np.array([thud is not None for thud in aligned.thud])
    return {
        name: Spread(
            heard=int(heard[of_sound == place].sum()),
            expected=int((of_sound == place).sum()),
            mean=float(mean[place]),
            sd=float(sd[place]),
            uncertainty=float(sd[place] / math.sqrt(mass[place])),
        )
        for place, name in enumerate(names)
        if mass[place] >= 1
    }


def _fitted(aligned: Aligned, of_sound: Indices, kinds: int) -> tuple[Floats, Floats, Floats]:
    """Return how many were heard of each kind, their mean and their sd, in seconds."""
    mixture = aligned.mixture
    near = mixture.near
    kind = of_sound[near.sound]
    late = near.late - mixture.lead[near.sound]
    mean, sd = np.zeros(kinds), np.full(kinds, mixture.spread)
    for _ in range(ROUNDS):
        bump = mixture.heard * bumps(late - mean[kind], sd[kind])
        intensity = mixture.extra_rate + summed(bump, near.thud, len(aligned.thuds))
        share = bump / intensity[near.thud]
        mass = summed(share, kind, kinds)
        mean = summed(share * late, kind, kinds) / np.maximum(mass, 1)
        square = summed(share * (late - mean[kind]) ** 2, kind, kinds)
        # One less, as the mean was found from the same catches.
        sd = np.sqrt((square + PRIOR * mixture.spread**2) / (np.maximum(mass - 1, 0) + PRIOR))
        sd = np.maximum(sd, SMALLEST_SPREAD)
    return mass, mean, sd
