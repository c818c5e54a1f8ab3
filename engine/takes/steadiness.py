"""Steadiness of the catches: lead, drift, spread, the change point, and the tempo that was kept.

All is computed from the thuds as the mixture shares them, so that neither missed catches nor extra
thuds nor the edge of a window widen or narrow a spread. A straight line is fitted to the
asynchronies first (weighted least squares): its level is the lead, its slope the drift. Successive
asynchronies are correlated, so n of them with the lag-1 autocorrelation r count as n (1 - r) /
(1 + r) independent ones (Bayley & Hammersley, J. R. Stat. Soc. Suppl. 8 (1946) 184-197). Where
people keep to a beat the correlation also reaches over many catches (Chen, Ding & Kelso, Phys. Rev.
Lett. 79 (1997) 4501-4504), so the error of the drift is at least that from the means of ten long
batches about the line (Conway, Management Science 10 (1963) 47-61).

The *change point* from which catches are less steady is the time at which two standard deviations,
one before and one after, explain the asynchronies best (the likelihood ratio for a change of
variance; Chen & Gupta, J. Amer. Stat. Assoc. 92 (1997) 739-747), if that is far better than a
single one and the second is much wider.
"""

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from throwcount.engine.takes.alignment import Aligned
from throwcount.engine.takes.catches import Floats
from throwcount.engine.takes.throw_bias import FEWEST

BATCHES: Final = 10
"""Batches of catches whose means tell the error of the drift."""

DRIFT_FREEDOM: Final = BATCHES - 2
"""Degrees of freedom of that error, which is about a line through the means."""

WIDENED: Final = 1.3
"""By how much that error is widened, as means are correlated too. It was chosen, as the number of
batches was, on 14,000 made series, from white to like 1/f."""

CLOCKS: Final = 0.006
"""Standard deviation of the drift between the clocks of a player and a recorder, in seconds a
minute: 100 parts a million, as each quartz may be off by as much (common practice)."""


@dataclass(frozen=True, slots=True)
class Steadiness:
    """The steadiness of a take."""

    heard: int
    """Sounds that were heard; catches that fall together are one sound."""
    expected: int
    """Sounds that were expected, heard or not."""
    lead: float | None
    """The mean asynchrony, in seconds, below zero for early; None if the call is not on the take,
    so that it cannot be told."""
    drift: float
    """The change of the asynchrony against the tempo asked for, in seconds a minute, or against the
    pace of the alignment if that is a juggler's own."""
    drift_uncertainty: float
    """Its standard error, with that of two clocks if the call is not on the take."""
    asynchrony_sd: float
    """Standard deviation of single catches' asynchronies about lead and drift, in seconds."""
    wander_sd: float
    """Standard deviation of its slow part, over some twenty catches and more, in seconds."""
    interval_sd: float | None
    """Standard deviation of the intervals between successive sounds about their expected lengths,
    in seconds; None if there are too few."""
    intervals: int
    """The number of these intervals."""
    correlation: float
    """The lag-1 autocorrelation of the asynchronies, -1 to 1."""


@dataclass(frozen=True, slots=True, eq=False)
class Residuals:
    """Asynchronies about the straight line through all of them."""

    level: float
    """The line at `centre`, in seconds."""
    slope: float
    """The slope of the line, in seconds a second."""
    centre: float
    """The mean time of the asynchronies, in seconds of the take."""
    pair: Floats
    """The residual of each pair of a sound and a thud near it, in seconds."""
    sound: Floats
    """The residual of each sound with its own thud; not a number where it was not heard."""


def residuals(aligned: Aligned) -> Residuals | None:
    """Return the asynchronies about their regression line; None if too few were heard."""
    near, share = aligned.mixture.near, aligned.mixture.share
    if aligned.heard < FEWEST or share.sum() < FEWEST / 2:
        return None
    when = aligned.expected[near.sound]
    centre = float((share * when).sum() / share.sum())
    level = float((share * near.late).sum() / share.sum())
    bend = (share * (when - centre) ** 2).sum()
    slope = float((share * (when - centre) * near.late).sum() / bend) if bend > 0 else 0.0
    of_sound = aligned.asynchrony - level - slope * (aligned.expected - centre)
    return Residuals(level, slope, centre, near.late - level - slope * (when - centre), of_sound)


def steadiness(aligned: Aligned, about: Residuals) -> Steadiness:
    """Return how steady a take is, from the residuals of its asynchronies."""
    share = aligned.mixture.share
    mass = float(share.sum())
    heard = aligned.heard
    total = float((share * about.pair**2).sum())
    sd = math.sqrt(total / max(mass - 2, 1))
    slow = aligned.mixture.lead - about.level - about.slope * (aligned.expected - about.centre)
    correlation, intervals = _neighbours(about.sound)
    return Steadiness(
        heard=heard,
        expected=len(aligned.thud),
        lead=about.level if aligned.placed else None,
        drift=60 * about.slope,
        drift_uncertainty=_drift_error(aligned, about, sd, correlation),
        asynchrony_sd=sd,
        wander_sd=float(np.std(slow)),
        # Better than from the intervals themselves, the widest of which are lost to extra thuds.
        interval_sd=sd * math.sqrt(2 * (1 - correlation)) if intervals >= FEWEST else None,
        intervals=intervals,
        correlation=correlation,
    )


def _drift_error(aligned: Aligned, about: Residuals, sd: float, correlation: float) -> float:
    """Return the standard error of the drift, in seconds a minute."""
    heard = np.flatnonzero(~np.isnan(about.sound))
    when, late = aligned.expected[heard] - about.centre, about.sound[heard]
    width = math.sqrt(float((when * when).sum()))
    if width == 0:
        return math.inf
    follow = (1 + max(correlation, 0)) / (1 - max(correlation, 0))
    parts = np.array_split(np.arange(len(heard)), min(BATCHES, len(heard)))
    means = np.array([[when[part].mean(), late[part].mean()] for part in parts])
    _, error = _slope(*means.T)
    error = max(WIDENED * error, sd * math.sqrt(follow) / width)
    clocks = CLOCKS if aligned.catches and not aligned.placed else 0.0
    return math.hypot(60 * error, clocks)


def _neighbours(late: Floats) -> tuple[float, int]:
    """Return the lag-1 autocorrelation, and the number of pairs that it is from."""
    before, after = late[:-1], late[1:]
    both = ~(np.isnan(before) | np.isnan(after))
    count = int(both.sum())
    if count < FEWEST:
        return 0.0, count
    power = float(np.nanmean(late**2))
    together = float((before[both] * after[both]).mean())
    return min(max(together / power, -0.99), 0.99) if power > 0 else 0.0, count


FEWEST_ON_A_SIDE: Final = 16
"""Catches on either side of a change point, at least."""

WIDER: Final = 1.5
"""Ratio of the standard deviation after it to that before, at least."""

BETTER: Final = 10.0
"""Log likelihood ratio in favour of a change point, at least, in nats."""


@dataclass(frozen=True, slots=True)
class Change:
    """The time from which catches are less steady."""

    time: float
    """When the first of these catches was due, in seconds of the take."""
    before: float
    """Standard deviation of the asynchronies before that time, in seconds."""
    after: float
    """Standard deviation of the asynchronies from that time on, in seconds."""


def change_point(times: Floats, late: Floats, correlation: float = 0.0) -> Change | None:
    """Return the change point of a take; None if there is none.

    `times` are those at which each sound was due, in order, in seconds. `late` holds their
    residuals in seconds, not a number where none was heard, and `correlation` is their lag-1
    autocorrelation, which reduces the number of independent ones.
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
"""A window lasts `SHORTEST` seconds, or the take divided by `WINDOWS` if that is longer."""

FEWEST_IN_A_WINDOW: Final = 6
"""Catches in a window, at least, for its tempo to be given."""


@dataclass(frozen=True, slots=True)
class KeptTempo:
    """The tempo in a window of a take."""

    start: float
    """When it begins, in seconds of the take."""
    end: float
    """When it ends, in seconds of the take."""
    tempo: float
    """Beats a minute that were kept; catches a minute if no pattern is known."""
    uncertainty: float
    """Its standard error."""
    asked: float | None
    """Beats a minute that were asked for; None if no pattern is known."""
    heard: int
    """Catches that were heard."""


def kept_tempos(aligned: Aligned) -> tuple[KeptTempo, ...]:
    """Return the tempo of each window in which enough was heard, by the slope of asynchronies."""
    expected = aligned.expected
    if len(expected) < FEWEST_IN_A_WINDOW:
        return ()
    late = aligned.asynchrony
    if aligned.catches:
        tempos = [aligned.catches[sound[0]].tempo for sound in aligned.sounds]
        asked = np.array(tempos) / aligned.rate
    else:
        asked = 60 / np.gradient(expected)
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


def _slope(when: Floats, late: Floats) -> tuple[float, float]:
    """Return the slope of a least-squares line, and its standard error."""
    off = when - when.mean()
    width = float((off * off).sum())
    slope = float((off * late).sum()) / width
    left = late - late.mean() - slope * off
    return slope, float(np.sqrt((left * left).sum() / max(len(when) - 2, 1) / width))
