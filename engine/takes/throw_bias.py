"""Throw bias: how late the catches of each hand and of each throw of the cycle are.

The lead and slow changes are taken out. Then the fewest throws are taken for late or early, at full
size against the mean of the others, that leave no difference beyond chance between these: against
the mean of all, one late throw would make its neighbours early.

Of catches that make one sound mostly the first is heard, now and then only the last, so that the
sound seems early or late when no catch is. Where other throws are heard alone, bias is measured
against those, and sounds of several catches are not judged.

*Masking* is allowed for. A thud is not heard if it follows another too closely, so of catches that
fall due soon after others only the late ones are heard, and their throws would seem late. Let both
be normal with the standard deviation s, the second due m after the first. If it is heard only when
it comes more than h after the first, it is then later in the mean by

    s / sqrt 2 * f(a) / F(a),    a = (m - h) / (s sqrt 2)

where f and F are the density and the distribution of a standard normal variable: the mean of a
truncated normal distribution (Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 1,
Wiley 1994, section 13.10.1).
"""

import math
from collections import Counter
from collections.abc import Collection, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Final, TypeAlias, TypeVar

import numpy as np

from throwcount.engine.takes.alignment import Aligned
from throwcount.engine.takes.catches import Floats
from throwcount.engine.takes.mixture import SMALLEST_SPREAD

MASKED_SECONDS: Final = 0.046
"""Seconds after a thud in which no other is heard, measured with thuds of equal loudness."""

FAR: Final = 4.0
"""Standard deviations beyond these seconds from which on next to nothing is masked."""

NORMAL: Final = NormalDist()


def masking_delay(due: Floats, spread: float) -> Floats:
    """Return the mean delay of each sound that results from masking, in seconds.

    `due` holds the mean time of each sound, in seconds, nearly in order. `spread` is the standard
    deviation about it, in seconds, more than 0.
    """
    later = np.zeros(len(due))
    off = (np.diff(due) - MASKED_SECONDS) / (spread * math.sqrt(2))
    for index in np.flatnonzero(off < FAR).tolist():
        # Beyond the limit the distribution function is too small to divide by.
        at = max(float(off[index]), -FAR)
        later[index + 1] = spread / math.sqrt(2) * NORMAL.pdf(at) / NORMAL.cdf(at)
    return later


FEWEST: Final = 8
"""Catches, at least, for anything to be said of their kind."""

SETTLING: Final = 3
"""Iterations for the means and their delay by masking."""

LEVEL: Final = 0.05
"""Level of significance, over all throws that are compared (Sidak 1967)."""

PRIOR: Final = 2.0
"""Weight of the overall spread in the spread of each kind, in catches."""

HANDS: Final = ("right", "left")

ThrowsOfSound: TypeAlias = tuple[tuple[str, int | None, str], ...]
"""The throws whose catches make one sound: part, beat of the cycle, and notation of each."""

SoundKind = TypeVar("SoundKind", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Spread:
    """Asynchronies of some catches."""

    heard: int
    """How many of them were heard."""
    expected: int
    """How many were expected, heard or not."""
    mean: float
    """Their mean asynchrony, in seconds, against all catches around; below zero is early."""
    sd: float
    """Standard deviation about that mean, slow changes taken out, in seconds."""
    uncertainty: float
    """The standard error of the mean, in seconds, with the catches taken as independent, and with
    the uncertainty of masking."""


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
    """The beat of the cycle on which each is thrown, from zero; None outside the parts."""
    throws: tuple[str, ...]
    """Each in notation, such as "4x"."""
    spread: Spread
    """Its asynchronies, compared with those of the comparable throws."""
    comparable: bool
    """Whether its sounds tell if it is late; they do not if they are of several catches each while
    those of other throws are heard alone."""


def hand_bias(aligned: Aligned) -> HandBias | None:
    """Return the right hand against the left; None if too few catches of one are told apart."""
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


def positions(aligned: Aligned) -> tuple[Position, ...]:
    """Return each throw of the cycle that was heard, in order of part and cycle."""
    kinds: list[ThrowsOfSound] = [
        tuple(
            sorted(
                {(catch.part, catch.cycle_beat, catch.throw) for catch in catches},
                key=lambda each: (-1 if each[1] is None else each[1], each[2]),
            )
        )
        for sound in aligned.sounds
        if (catches := [aligned.catches[index] for index in sound])
    ]
    if not kinds:
        return ()
    parts = list(dict.fromkeys(kind[0][0] for kind in kinds))
    spreads = _unmasked(aligned, kinds, _spreads(aligned, kinds))
    alone = _alone(aligned, kinds, spreads)
    usual, error = usual_mean([spreads[kind] for kind in alone])
    rows = [
        Position(
            part=kind[0][0],
            cycle_beats=tuple(cycle_beat for _, cycle_beat, _ in kind),
            throws=tuple(throw for _, _, throw in kind),
            spread=replace(
                spread,
                mean=spread.mean - usual,
                uncertainty=math.hypot(spread.uncertainty, error),
            ),
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
    aligned: Aligned, kinds: Sequence[SoundKind], spreads: Mapping[SoundKind, Spread]
) -> dict[SoundKind, Spread]:
    """Return the spread of each kind with the mean delay by masking taken out.

    Half of that delay is taken as its uncertainty, as a loud thud masks more than a soft one.
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


def usual_mean(spreads: Sequence[Spread]) -> tuple[float, float]:
    """Return the mean of the throws that are alike, in seconds, and its standard error.

    The fewest throws are left out without which no other differs from the rest beyond chance, but
    at most half; the late ones where that is a matter of taste. They are found one by one, each the
    one without which the rest is most alike (backward elimination).
    """
    alike = sorted(spreads, key=lambda each: -each.mean)
    for _ in range(len(spreads) // 2):
        if not _differing(alike):
            break
        rests = [alike[:place] + alike[place + 1 :] for place in range(len(alike))]
        alike = min(rests, key=lambda rest: round(_unlike(rest), 6))
    return _weighted_mean(alike)


def _weighted_mean(spreads: Sequence[Spread]) -> tuple[float, float]:
    worth = [1 / each.uncertainty**2 for each in spreads]
    mean = math.fsum(own * each.mean for own, each in zip(worth, spreads, strict=True))
    return (mean / math.fsum(worth), math.fsum(worth) ** -0.5) if worth else (0.0, 0.0)


def _unlike(spreads: Sequence[Spread]) -> float:
    """Return the sum of the squared differences from the mean, each in standard errors."""
    mean, _ = _weighted_mean(spreads)
    return math.fsum(((each.mean - mean) / each.uncertainty) ** 2 for each in spreads)


def _differing(spreads: Sequence[Spread]) -> bool:
    """Return whether any of these differs from their mean beyond chance."""
    mean, error = _weighted_mean(spreads)
    limit = NORMAL.inv_cdf((1 + (1 - LEVEL) ** (1 / max(len(spreads), 1))) / 2)
    return any(
        (each.mean - mean) ** 2 > limit**2 * max(each.uncertainty**2 - error**2, 0.0)
        for each in spreads
        if len(spreads) > 1
    )


def _alone(
    aligned: Aligned, kinds: Sequence[SoundKind], spreads: Mapping[SoundKind, Spread]
) -> Collection[SoundKind]:
    """Return the kinds whose catches are mostly heard alone; all kinds if these are too few."""
    several = Counter(
        kind for kind, sound in zip(kinds, aligned.sounds, strict=True) if len(sound) > 1
    )
    alone = [kind for kind, spread in spreads.items() if several[kind] < spread.expected / 2]
    heard = any(spreads[kind].heard >= FEWEST for kind in alone)
    return alone if heard else list(spreads)


def _spreads(aligned: Aligned, kinds: Sequence[SoundKind]) -> dict[SoundKind, Spread]:
    """Return the spread of each kind of sound of which two were heard."""
    every: dict[SoundKind, list[float]] = {}
    for kind, off in zip(kinds, (aligned.asynchrony - aligned.mixture.lead).tolist(), strict=True):
        every.setdefault(kind, []).append(off)
    spreads = {}
    for kind, late in every.items():
        own = np.array([off for off in late if not math.isnan(off)])
        if len(own) < 2:  # noqa: PLR2004 - a single one may be an extra thud
            continue
        square = float(((own - own.mean()) ** 2).sum()) + PRIOR * aligned.mixture.spread**2
        sd = max(math.sqrt(square / (len(own) - 1 + PRIOR)), SMALLEST_SPREAD)
        spreads[kind] = Spread(
            heard=len(own),
            expected=len(late),
            mean=float(own.mean()),
            sd=sd,
            uncertainty=sd / math.sqrt(len(own)),
        )
    return spreads
