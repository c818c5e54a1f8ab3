"""How steady the catches are: lead, drift and spread.

All is computed from the thuds as the mixture shares them out, so that neither a missed catch nor
an extra sound nor the edge of a window widens or narrows a spread. A straight line is taken out of
the asynchronies first: its level is the lead, which is no fault, and its slope the drift.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from engine.catching.alignment import Aligned
from engine.catching.doubled import spread_of_pairs
from engine.catching.heard import Floats

FEWEST_OF_A_KIND: Final = 8
"""Catches of a kind that tell anything of it."""


PAIR: Final = 2
SAME_TIME: Final = 0.002
"""Seconds between two catches that are at the same time."""

NEARLY_ALL: Final = 0.8


@dataclass(frozen=True, slots=True)
class Steadiness:
    """How steady a take is."""

    heard: int
    """Sounds that were heard; catches that fall together are one sound."""
    expected: int
    """Sounds that were expected, heard or not."""
    lead: float | None
    """The mean asynchrony in seconds, below zero is early; None where the call is not on the take,
    so that nobody can tell."""
    drift: float
    """How much later the catches come, in seconds a minute."""
    drift_uncertainty: float
    """Its standard error."""
    asynchrony_sd: float
    """The sd of single catches' asynchronies about lead and drift, in seconds."""
    wander_sd: float
    """That part of it which is slow, over some twenty catches and more, in seconds."""
    interval_sd: float | None
    """The sd of the intervals from one sound to the next, each against what it should have been, in
    seconds; None where too few stand side by side."""
    intervals: int
    """How many of these there are."""
    correlation: float
    """Correlation of one asynchrony with the next, -1 to 1."""


@dataclass(frozen=True, slots=True, eq=False)
class Residuals:
    """Asynchronies about the straight line through all of them."""

    level: float
    """Seconds late at `centre`."""
    slope: float
    """Seconds later for each second of the take."""
    centre: float
    """The middle of the line, in seconds of the take."""
    pair: Floats
    """For each pair of a sound and a thud near it, seconds late against the line."""
    sound: Floats
    """For each sound, the same of the thud that is its own; not a number where none was heard."""


def residuals(aligned: Aligned) -> Residuals | None:
    """Return the asynchronies about their line; None where too few were heard."""
    near, share = aligned.mixture.near, aligned.mixture.share
    heard = sum(thud is not None for thud in aligned.thud)
    if heard < FEWEST_OF_A_KIND or share.sum() < FEWEST_OF_A_KIND / 2:
        return None
    when = aligned.expected[near.sound]
    centre = float((share * when).sum() / share.sum())
    level = float((share * near.late).sum() / share.sum())
    bend = (share * (when - centre) ** 2).sum()
    slope = float((share * (when - centre) * near.late).sum() / bend) if bend > 0 else 0.0
    of_sound = aligned.asynchrony - level - slope * (aligned.expected - centre)
    return Residuals(level, slope, centre, near.late - level - slope * (when - centre), of_sound)


def steadiness(aligned: Aligned, about: Residuals) -> Steadiness:
    """Return how steady a take is, from its asynchronies about their line."""
    share = aligned.mixture.share
    mass = float(share.sum())
    heard = sum(thud is not None for thud in aligned.thud)
    total = float((share * about.pair**2).sum())
    sd = math.sqrt(total / max(mass - 2, 1))
    slow = aligned.mixture.lead - about.level - about.slope * (aligned.expected - about.centre)
    correlation, intervals = _neighbours(about.sound)
    independent = mass * (1 - max(correlation, 0)) / (1 + max(correlation, 0))
    when = aligned.expected[aligned.mixture.near.sound]
    width = math.sqrt(float((share * (when - about.centre) ** 2).sum() / mass))
    uncertainty = sd / math.sqrt(max(independent, 1)) / width if width > 0 else math.inf
    return Steadiness(
        heard=heard,
        expected=len(aligned.thud),
        lead=about.level if aligned.placed else None,
        drift=60 * about.slope,
        drift_uncertainty=60 * uncertainty,
        asynchrony_sd=(
            spread_of_pairs(sd, heard / len(aligned.thud), mass / len(aligned.thud))
            if _in_pairs(aligned)
            else sd
        ),
        wander_sd=float(np.std(slow)),
        # Seldom so wide of the mark as by differences of pairs, whose widest go to the extra thuds.
        interval_sd=sd * math.sqrt(2 * (1 - correlation))
        if intervals >= FEWEST_OF_A_KIND
        else None,
        intervals=intervals,
        correlation=correlation,
    )


def _in_pairs(aligned: Aligned) -> bool:
    """Return whether nearly every sound is of two catches at the same time."""
    pairs = [
        len(sound) == PAIR
        and aligned.catches[sound[1]].time - aligned.catches[sound[0]].time < SAME_TIME
        for sound in aligned.sounds
    ]
    return sum(pairs) > NEARLY_ALL * len(pairs)


def _neighbours(late: Floats) -> tuple[float, int]:
    """Return the correlation of each asynchrony with the next, and of how many pairs."""
    before, after = late[:-1], late[1:]
    both = ~(np.isnan(before) | np.isnan(after))
    count = int(both.sum())
    if count < FEWEST_OF_A_KIND:
        return 0.0, count
    power = float(np.nanmean(late**2))
    together = float((before[both] * after[both]).mean())
    return min(max(together / power, -0.99), 0.99) if power > 0 else 0.0, count
