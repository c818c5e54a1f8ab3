"""The verdict on a report: the probability that it is right, and what it cannot tell.

A report with expected catches is *right* if at least nine in ten of the thuds that it takes for
catches are of the right catch, or of catches that fall together, and if its standard deviation of
the asynchronies lies within 3 ms or 10 % of the true one. A report without them is right if in
nine windows in ten the rate of catches is within 2 % of the true one, and its standard deviation is
at most 3 ms plus a quarter of it wider than the true one; so an uneven rhythm that is told as
unsteady is not right.

The probabilities are logistic regressions on a few measures, fitted to simulated takes of many
kinds: patterns, tempos and steadiness at random, from clean takes to some with more extra thuds
than catches, cut off at both ends, or with nothing but noise; without expected catches also to made
takes of recorded impacts (`tests/benchmarks/fit_confidence.py` fits them again). With expected
catches this is the probability that all is right at the offset that was found, so it is multiplied
by the probability of that offset.
"""

import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from throwcount.engine.takes.alignment import OWN_PACE, Aligned

NOT_CONFIDENT: Final = 0.5
"""Confidence below which a report is a guess."""

FEW_HEARD: Final = 0.75
"""Share of the sounds heard below which there is a remark."""

MANY_EXTRA: Final = 0.2
"""Extra thuds a sound heard above which there is a remark."""

WIDE: Final = 0.17
"""Spread, as a share of the time between sounds, above which neighbours may be confused."""

UNCERTAIN_OFFSET: Final = 0.95
"""Probability of the offset below which there is a remark."""

FEW_TOGETHER: Final = 0.05
"""Share of sounds with several catches from which on there is a remark."""

UNUSUAL_LEAD: Final = 0.2
"""Seconds by which nobody is early or late: people tap some 20 to 80 ms early (Repp, Psychon.
Bull. Rev. 12 (2005) 969-992), and hold objects longer or shorter by some tenths of a beat."""

CLOCK_DRIFT: Final = 0.012
"""Seconds a minute by which two clocks drift against each other, at most: 200 parts a million."""


def remarks(aligned: Aligned, confidence: float) -> Iterator[str]:
    """Yield what is to be taken with care, in sentences, the most important first.

    `aligned` holds the expected catches or the beat grid with their thuds. `confidence` is that of
    the report, 0 to 1.
    """
    if confidence / aligned.certainty < NOT_CONFIDENT:
        yield (
            "Take all of this for a guess: too little of what was heard fits "
            + ("the pattern." if aligned.catches else "a steady cadence.")
        )
    if not aligned.catches:
        yield (
            "No pattern was given, so that hands and throws cannot be told, an uneven rhythm "
            "counts as unsteadiness, a call that was played aloud counts as catches, and there may "
            "be two beats to a catch. To know more, say what was thrown, or what was played."
        )
        yield from _extra(aligned)
        return
    yield from _about_offset(aligned)
    yield from _together(aligned)
    slower = aligned.rate - 1
    if abs(slower) > OWN_PACE:
        yield (
            f"The juggler kept to a pace of their own, {abs(slower):.1%} "
            f"{'slower' if slower > 0 else 'faster'} than asked for; asynchronies are told against "
            "that pace."
        )
    thrown = _thrown(aligned)
    if aligned.heard < FEW_HEARD * thrown:
        yield (
            f"Only {aligned.heard} of {thrown} expected sounds could be heard: a drop "
            "shows late or not at all where many others are missing."
        )
    yield from _extra(aligned)
    gap = float(np.median(np.diff(aligned.expected))) if len(aligned.expected) > 1 else math.inf
    if aligned.mixture.spread > WIDE * gap:
        yield (
            "The catches spread so wide for this tempo that some may have been taken for their "
            "neighbours."
        )
    if not aligned.placed:
        yield (
            "The call is not on the take, so that nobody can tell how early or late the catches "
            f"are, and up to {1000 * CLOCK_DRIFT:.0f} ms of drift a minute may be that of the "
            "recorder's clock."
        )


def _about_offset(aligned: Aligned) -> Iterator[str]:
    if aligned.certainty < UNCERTAIN_OFFSET:
        wrong = "are a guess" if aligned.certainty < NOT_CONFIDENT else "may be named wrongly"
        yield (
            "The catches fit almost as well a beat or a cycle earlier or later, so that hands and "
            f"throws {wrong}."
        )
    lead = float(np.mean(aligned.mixture.lead))
    if aligned.placed and abs(lead) > UNUSUAL_LEAD:
        yield (
            f"The catches come {1000 * abs(lead):.0f} ms {'late' if lead > 0 else 'early'} on the "
            "whole, more than anybody does who hears the beat: perhaps the pattern thrown is not "
            "the one given, or a device reports the wrong latency."
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


def _extra(aligned: Aligned) -> Iterator[str]:
    extra = len(aligned.extra)
    if extra > MANY_EXTRA * max(aligned.heard, 1):
        extra_are = "are no catch" if aligned.catches else "do not keep to the cadence"
        yield (
            f"{extra} thuds {extra_are}: the place may be noisy, or others juggle in it, "
            "and some of their sounds may have been taken for catches."
        )


CALLED: Final = (-5.85, 0.58, 2.92, 0.85, -20.77)
"""The intercept of the logistic regression with expected catches on the take's clock, and the
weight of each of `measures`."""

AGAINST: Final = (-9.00, 0.54, 5.27, 0.88, -13.32)
"""The same where their place had to be found."""

ALONE: Final = (-3.74, 0.42, 2.74, 0.34, -16.20)
"""The same without expected catches."""


def confidence_of(aligned: Aligned) -> float:
    """Return the probability that a report on this alignment is right."""
    weights = (CALLED if aligned.placed else AGAINST) if aligned.catches else ALONE
    return aligned.certainty * _logistic(weights, measures(aligned))


def measures(aligned: Aligned) -> tuple[float, ...]:
    """Return the measures on which the confidence of an alignment depends, if its offset is right.

    They are the log likelihood ratio of a thud in place against an extra onset, in nats; the share
    of sounds heard, from the first to the last of these; the logarithm of their number; and the
    spread, as a share of the time between sounds.
    """
    mixture = aligned.mixture
    heard = aligned.heard
    peak = mixture.heard / (mixture.extra_rate * mixture.spread * math.sqrt(2 * math.pi))
    gap = float(np.median(np.diff(aligned.expected))) if len(aligned.expected) > 1 else math.inf
    return (
        min(max(math.log(peak), 0.0), 8.0),
        heard / max(_thrown(aligned), 1),
        math.log1p(heard),
        min(mixture.spread / gap, 1.0),
    )


def _thrown(aligned: Aligned) -> int:
    """Return the number of sounds expected from the first that was heard to the last."""
    heard = [index for index, thud in enumerate(aligned.thud) if thud is not None]
    return heard[-1] - heard[0] + 1 if heard else 0


def _logistic(weights: Sequence[float], values: Sequence[float]) -> float:
    total = weights[0] + math.fsum(
        weight * value for weight, value in zip(weights[1:], values, strict=True)
    )
    return 1 / (1 + math.exp(-min(max(total, -30.0), 30.0)))
