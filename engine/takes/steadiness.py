"""How steady the catches are: lead, drift and spread.

All is computed from the thuds as the mixture shares them out, so that neither a missed catch nor
an extra sound nor the edge of a window widens or narrows a spread. A straight line is taken out of
the asynchronies first: its level is the lead, which is no fault, and its slope the drift.

The spread behind thuds of which each is the first of two.

Where both hands, or two objects in one, are always caught at the same time, a thud is that of the
earlier catch, and the later one is heard only if it comes after the first has died away. So the
thuds spread less than the catches, or, with some second ones among them, more.

Where a take fell apart: the moment from which the catches are less steady than before.

Of all moments the one is taken at which two spreads, one before and one after, explain the
asynchronies best (the likelihood ratio for a change of variance; Chen & Gupta, J. Amer. Stat.
Assoc. 92 (1997) 739-747), if that is far better than a single spread and the second is much wider.

The tempo that was kept, over time.
"""

import math
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist
from typing import Final

import numpy as np

from throwcount.engine.takes.alignment import Aligned
from throwcount.engine.takes.catches import MERGED, Floats
from throwcount.engine.takes.throw_bias import Cycle, throw_bias

NORMAL: Final = NormalDist()

LEAST_MERGED: Final = 0.03
MOST_MERGED: Final = 0.9
"""The share of pairs heard as two that tells how far apart their catches are."""


def spread_of_pairs(spread: float, heard: float, thuds: float) -> float:
    """Return the sd of each catch, in seconds, from what is heard of pairs of catches.

    Let a catch be late by what both have in common and a part of its own, normal with sd h. The
    two are further apart than m, and so heard as two, with the chance P = 2 (1 - F(a)), where
    a = m / (h sqrt 2) and F is the normal distribution. That gives h. What the own parts add to
    the variance of the thuds follows from the half-normal distribution of the distance; it is
    taken off, and that of all catches, h squared, put in its place.

    `spread` is the sd of the thuds, in seconds. `heard` is the share of the pairs of which anything
    was heard, 0 to 1. `thuds` is how many thuds there are for each pair.
    """
    missing = math.sqrt(max(1 - heard, 0.0))
    caught_both = (1 - missing) ** 2
    heard_twice = (thuds - 2 * missing * (1 - missing)) / max(caught_both, 0.01) - 1
    if heard_twice < LEAST_MERGED:
        return spread
    own = MERGED / (math.sqrt(2) * NORMAL.inv_cdf(1 - min(heard_twice, MOST_MERGED) / 2))
    return math.sqrt(max(spread**2 + own**2 - heard_variance(own), 0.25 * spread**2))


def heard_variance(own: float) -> float:
    """Return the variance of the thuds of pairs whose catches have the sd `own`, in seconds.

    Of two catches the mean varies by own squared over 2, and each lies half their distance from
    it; the second is heard where the distance is more than `MERGED`.
    """
    far = MERGED / (own * math.sqrt(2))
    heard_twice = 2 * (1 - NORMAL.cdf(far))
    squares_beyond = 4 * own**2 * (far * NORMAL.pdf(far) + 1 - NORMAL.cdf(far))
    mean = -0.5 * (2 * own / math.sqrt(math.pi)) * (1 - math.exp(-0.5 * far**2))
    square = 0.5 * own**2 * (1 + heard_twice) + 0.25 * (2 * own**2 + squares_beyond)
    return square / (1 + heard_twice) - (mean / (1 + heard_twice)) ** 2


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


FEWEST_ON_A_SIDE: Final = 16
"""Catches on either side, at least."""

WIDER: Final = 1.5
"""How much wider the spread is afterwards, at least."""

BETTER: Final = 10.0
"""Nats by which two spreads explain more than one, at least."""


@dataclass(frozen=True, slots=True)
class Change:
    """The moment from which catches are less steady."""

    time: float
    """When the first of these catches was due, in seconds of the take."""
    before: float
    """The sd of the asynchronies up to then, in seconds."""
    after: float
    """The sd of the asynchronies from then on, in seconds."""


def change_point(times: Floats, late: Floats, correlation: float = 0.0) -> Change | None:
    """Return where a take fell apart; None where it did not.

    Parameters
    ----------
    times
        When each sound was due, in order, in seconds.
    late
        Its asynchrony about the straight line through all, in seconds; not a number where none
        was heard.
    correlation
        Of one asynchrony with the next: catches that follow each other closely count for fewer.
    """
    heard = ~np.isnan(late)
    when, square = times[heard], late[heard] ** 2
    count = len(square)
    if count < 2 * FEWEST_ON_A_SIDE:
        return None
    before = np.arange(FEWEST_ON_A_SIDE, count - FEWEST_ON_A_SIDE + 1)
    sums = np.cumsum(square)
    early = sums[before - 1] / before
    later = (sums[-1] - sums[before - 1]) / (count - before)
    floor = max(sums[-1] / count * 1e-6, 1e-12)
    early, later = np.maximum(early, floor), np.maximum(later, floor)
    independent = (1 - correlation**2) / (1 + correlation**2)
    whole = count * math.log(max(sums[-1] / count, floor))
    gain = 0.5 * independent * (whole - before * np.log(early) - (count - before) * np.log(later))
    gain[later < WIDER**2 * early] = -math.inf
    best = int(np.argmax(gain))
    if gain[best] < BETTER:
        return None
    return Change(float(when[before[best]]), math.sqrt(early[best]), math.sqrt(later[best]))


SHORTEST: Final = 5.0
WINDOWS: Final = 60
"""A window lasts so many seconds, or this part of the take if that is longer."""

FEWEST_IN_A_WINDOW: Final = 6
"""Catches in a window that tell a tempo."""


@dataclass(frozen=True, slots=True)
class KeptTempo:
    """The tempo in a stretch of a take."""

    start: float
    """When it begins, in seconds of the take."""
    end: float
    """When it ends, in seconds of the take."""
    tempo: float
    """Beats a minute that were kept; catches a minute where no pattern is known."""
    uncertainty: float
    """Its standard error."""
    asked: float | None
    """Beats a minute that were asked for; None where no pattern is known."""
    heard: int
    """Catches that were heard."""


def kept_tempos(aligned: Aligned, cycle: Cycle) -> tuple[KeptTempo, ...]:
    """Return the tempo over time, stretch by stretch, where enough was heard.

    How late a throw of the cycle always is, is left out: a stretch that begins with one that is
    early and ends with one that is late would seem slow.
    """
    expected = aligned.expected
    if len(expected) < FEWEST_IN_A_WINDOW:
        return ()
    late = aligned.asynchrony - throw_bias(aligned, cycle)
    asked = _asked(aligned)
    length = max(SHORTEST, float(expected[-1] - expected[0]) / WINDOWS)
    edges = np.arange(expected[0], expected[-1] + length, length)
    found = []
    for start, end in pairwise(edges.tolist()):
        low, high = np.searchsorted(expected, [start, end])
        heard = ~np.isnan(late[low:high])
        if heard.sum() < FEWEST_IN_A_WINDOW:
            continue
        slope, error = _slope(expected[low:high][heard], late[low:high][heard])
        tempo = float(np.mean(asked[low:high])) / (1 + slope)
        found.append(
            KeptTempo(
                start=start,
                end=end,
                tempo=tempo,
                uncertainty=tempo * error,
                asked=float(np.mean(asked[low:high])) * aligned.rate if aligned.catches else None,
                heard=int(heard.sum()),
            )
        )
    return tuple(found)


def _asked(aligned: Aligned) -> Floats:
    """Return the tempo of each sound as it is expected, in beats a minute of the take."""
    if aligned.catches:
        tempos = [aligned.catches[sound[0]].tempo for sound in aligned.sounds]
        return np.array(tempos) / aligned.rate
    rate: Floats = 60 / np.gradient(aligned.expected)
    return rate


def _slope(when: Floats, late: Floats) -> tuple[float, float]:
    """Return how much later per second, and its standard error."""
    off = when - when.mean()
    width = float((off * off).sum())
    slope = float((off * late).sum()) / width
    left = late - late.mean() - slope * off
    return slope, float(np.sqrt((left * left).sum() / max(len(when) - 2, 1) / width))
