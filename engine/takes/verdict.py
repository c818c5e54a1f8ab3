"""What a take cannot tell, or only with care, in plain sentences.

How sure a report is, as a chance that means something, and what it cannot tell.

A report against expected catches is *right* if at least nine in ten of the thuds that it takes for
catches are of the catch, or the catches together, that it takes them for, and if its sd of the
asynchronies lies within 3 ms or 10 % of the true one. A report without them is right if in nine
windows in ten the rate of catches is within 2 % of the true one.

The chances are logistic regressions on a few plain measures, fitted to simulated takes of many
kinds: patterns, tempos and steadiness at random, from clean ones to some with more extra thuds than
catches, cut off at both ends, or with nothing but noise on them
(`tests/benchmarks/fit_confidence.py` fits them anew). Against expected catches this is the chance
that all is right at the place that was found, so that it is taken times the chance of the place:
nothing that is a beat out is right.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Final

import numpy as np

from throwcount.engine.takes.alignment import Aligned
from throwcount.engine.takes.beat_grid import GridTempo

NOT_CONFIDENT: Final = 0.5
"""A confidence below which all is a guess."""

FEW_HEARD: Final = 0.75
"""The share of the catches heard below which it is said."""

MANY_EXTRA: Final = 0.2
"""Extra thuds for each sound that was heard, above which it is said."""

WIDE: Final = 0.17
"""Spread for the time between two sounds, above which neighbours are taken for each other."""

UNCERTAIN_PLACE: Final = 0.95
OWN_PACE: Final = 0.005
"""How far a pace lies from the tempo that was asked for when it is said, as a share."""

FEW_TOGETHER: Final = 0.05
"""The share of sounds with several catches from which it is said."""

UNUSUAL_LEAD: Final = 0.2
"""Seconds by which nobody is early or late: people tap some 20 to 80 ms early (Repp, Psychon.
Bull. Rev. 12 (2005) 969-992), and hold objects longer or shorter by some tenths of a beat."""

CLOCK_DRIFT: Final = 0.012
"""Seconds a minute by which two clocks drift apart: 200 millionths."""


def nothing_heard(thuds: int, *, known: bool) -> str:
    """Return why there is nothing to tell."""
    if not thuds:
        return "No catch was heard on this take: was it recorded close enough, and loud enough?"
    if known:
        return "None of the expected catches lies on this take."
    number = "one thud was" if thuds == 1 else f"{thuds} thuds were"
    return f"Only {number} heard, too few to tell a cadence."


def remarks(aligned: Aligned, confidence: float) -> Iterator[str]:
    """Yield what is to be taken with care, the most important first.

    `aligned` holds the thuds, with the catches that were expected or the places of the cadence.
    `confidence` is the chance that what is told of them is right, that of their place included, 0
    to 1.
    """
    if confidence / aligned.certainty < NOT_CONFIDENT:
        yield (
            "Take all of this for a guess: too little of what was heard fits "
            + ("the pattern." if aligned.catches else "a steady cadence.")
        )
    said: tuple[Callable[[Aligned], Iterator[str]], ...] = (
        (_place, _lead, _together, _own_pace, _few_heard, _extra, _spread, _clocks)
        if aligned.catches
        else (_no_pattern, _extra)
    )
    for each in said:
        yield from each(aligned)


def _place(aligned: Aligned) -> Iterator[str]:
    if aligned.certainty < UNCERTAIN_PLACE:
        wrong = "are a guess" if aligned.certainty < NOT_CONFIDENT else "may be named wrongly"
        yield (
            "The catches fit almost as well a beat or a cycle earlier or later, so that hands and "
            f"throws {wrong}."
        )


def _lead(aligned: Aligned) -> Iterator[str]:
    lead = float(np.mean(aligned.mixture.lead))
    if aligned.placed and abs(lead) > UNUSUAL_LEAD:
        yield (
            f"The catches come {1000 * abs(lead):.0f} ms {'late' if lead > 0 else 'early'} on the "
            "whole, which nobody is who hears the beat: perhaps another pattern was thrown than "
            "was given, or a device tells wrongly how long it takes."
        )


def _together(aligned: Aligned) -> Iterator[str]:
    together = [sound for sound in aligned.sounds if len(sound) > 1]
    if len(together) < max(FEW_TOGETHER * len(aligned.sounds), 1):
        return
    yield (
        f"{len(together)} of {len(aligned.sounds)} times several objects are caught together and "
        "make one sound: which of them is late, or missing, cannot be told."
    )
    hands = [{aligned.catches[index].hand for index in sound} for sound in aligned.sounds]
    if all(len(each) > 1 for each in hands):
        yield "Both hands always catch at once, so that left and right cannot be told apart."


def _own_pace(aligned: Aligned) -> Iterator[str]:
    slower = aligned.rate - 1
    if abs(slower) > OWN_PACE:
        yield (
            f"The juggler kept to a pace of their own, {abs(slower):.1%} "
            f"{'slower' if slower > 0 else 'faster'} than asked for; asynchronies are told against "
            "that pace."
        )


def _few_heard(aligned: Aligned) -> Iterator[str]:
    heard = sum(thud is not None for thud in aligned.thud)
    if heard < FEW_HEARD * len(aligned.thud):
        yield (
            f"Only {heard} of {len(aligned.thud)} expected sounds could be heard: a drop shows "
            "late or not at all where many others are missing."
        )


def _extra(aligned: Aligned) -> Iterator[str]:
    heard = sum(thud is not None for thud in aligned.thud)
    extra = len(aligned.extra)
    if extra > MANY_EXTRA * max(heard, 1):
        extra_are = "are no catch" if aligned.catches else "do not keep to the cadence"
        yield (
            f"{extra} thuds {extra_are}: the place may be noisy, or others juggle in it, "
            "and some of their sounds may have been taken for catches."
        )


def _spread(aligned: Aligned) -> Iterator[str]:
    if len(aligned.expected) < 2:  # noqa: PLR2004 - nothing between them
        return
    gap = float(np.median(np.diff(aligned.expected)))
    if aligned.mixture.spread > WIDE * gap:
        yield (
            "The catches spread so wide for this tempo that some may have been taken for their "
            "neighbours."
        )


def _clocks(aligned: Aligned) -> Iterator[str]:
    if not aligned.placed:
        yield (
            "The call is not on the take, so that nobody can tell how early or late the catches "
            f"are, and up to {1000 * CLOCK_DRIFT:.0f} ms of drift a minute may be that of the "
            "recorder's clock."
        )


def _no_pattern(_aligned: Aligned) -> Iterator[str]:
    yield (
        "No pattern was given, so that hands and throws cannot be told, an uneven rhythm counts as "
        "unsteadiness, and there may be two beats to a catch."
    )


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

    How much likelier a thud in place is than an extra onset there, in nats; the share heard; the
    logarithm of their number; and the spread, as a share of the time between two sounds.
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
