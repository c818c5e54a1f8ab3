"""Which thud is which catch.

Where the call was found on the take, expected catches are on the take's clock but for a lead;
else their shift is searched for, and their pace too, as a juggler who hears no beat keeps to a
tempo only roughly (`placing`). What is left is a lead that varies slowly (`lead`), a spread around
it and a rate of extra sounds (`mixture`); with these known each sound gets at most one thud, and
each thud at most one sound (`pairing`).

Where on the take the expected catches lie, and how surely there and not elsewhere.

Every shift that may be meant is tried (`shifts`), at every pace that may be: the lead is followed
from there, thuds are paired, and what the pairs gain, less what goes unheard but for stops, is the
evidence for the place.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from throwcount.engine.takes.beat_grid import grid_tempos, overall
from throwcount.engine.takes.catches import MERGED, Catch, Floats, Indices, Thuds, sounds_of
from throwcount.engine.takes.mixture import LEAST_EXTRA_RATE, Mixture, choices, fit, pair_up
from throwcount.engine.takes.offsets import EASE, START_EASE, around, follow, shifts

NEARBY: Final = 0.6
"""Seconds by which catches that are on the take's clock may yet be off."""

USUAL_LEAD: Final = -0.03
LEAD_RANGE: Final = 0.08
"""Seconds of asynchrony that are usual, and their sd, where a beat was heard. People tap some 20
to 80 ms early (Repp 2005), and a dwell ratio of 0.6 or 0.7 for 2/3 moves catches by some 30 ms."""

TRIED: Final = 800
"""Sounds on which places are compared."""

TRIED_ROUNDS: Final = 30
"""Steps by which the mixture is fitted to compare them."""

USUALLY_HEARD: Final = 0.9
EXTRA_SHARE: Final = 0.1
"""What places are compared with: the share of sounds that is heard, and of thuds that is extra."""

STOPPING: Final = 6.0
"""Nats that it costs to take catches for stopped."""

WORTH: Final = 3.0
QUIET: Final = 3.0
"""Where not all sounds are compared: nats that each further one is worth, and that each thud costs
in so many seconds of quiet before the first."""

CLIMBS: Final = 8
"""How often the places beside the best are tried, at most."""

SAME: Final = 0.06
"""Seconds between two places that are one."""

OTHER_PACE: Final = 0.15
"""How far from the tempo that was asked for a juggler's own pace may lie, as a share."""

MULTIPLES: Final = (1.0, 2.0, 0.5, 1.5, 2 / 3)
"""Of the rate of catches, for one that the cadence may be mistaken for."""


@dataclass(frozen=True, slots=True)
class OffsetCandidate:
    """A place that was tried."""

    shift: float
    """Seconds of the take at time 0 of the timeline."""
    rate: float
    """Seconds of the take in a second of the timeline."""
    evidence: float
    """How much better than chance the thuds are explained, in nats."""
    later: float
    """Seconds by which the sounds come later than without shift and rate, in the mean."""
    lead: float
    """Seconds by which the first sounds are heard later than at this shift and rate."""


def within(expected: Floats, seconds: float) -> Indices:
    """Return which sounds lie on a take of so many seconds."""
    return np.flatnonzero((expected >= 0) & (expected <= seconds))


def paces(due: Floats, thuds: Thuds) -> tuple[float, ...]:
    """Return the paces to try, in seconds of the take in a second of the timeline; 1 first."""
    asked, kept = _rate(due), _rate(thuds.times)
    if asked is None or kept is None:
        return (1.0,)
    ratios = [asked / kept * multiple for multiple in MULTIPLES]
    return (1.0, *(ratio for ratio in ratios if abs(math.log(ratio)) < OTHER_PACE))


def _rate(times: Floats) -> float | None:
    """Return the usual rate in the middle, in catches a minute."""
    first = max(len(times) - TRIED, 0) // 2
    return overall(grid_tempos(times[first : first + TRIED].tolist()))


def certainty(places: Sequence[OffsetCandidate]) -> float:
    """Return the share of the first place among all, by their evidence."""
    best = places[0].evidence
    return 1 / math.fsum(math.exp(max(place.evidence - best, -700)) for place in places)


@dataclass(frozen=True, slots=True, eq=False)
class Search:
    """A search for the place."""

    due: Floats
    """When each sound is expected, in seconds of the timeline, in order."""
    thuds: Thuds
    """What was heard."""
    seconds: float
    """The length of the take."""
    placed: bool
    """Whether the clock of the timeline is that of the take, so that only a lead is not known."""

    def places(self) -> list[OffsetCandidate]:
        """Return the places that were tried, the best first, each once."""
        nearby = NEARBY if self.placed else None
        tried = [
            place
            for rate in ((1.0,) if self.placed else paces(self.due, self.thuds))
            for shift in shifts(self.due * rate, self.thuds.times, nearby)
            if (place := self._tried(shift, rate))
        ]
        for _ in range(CLIMBS if tried else 0):
            best = max(tried, key=_evidence_of)
            beside = around(best.shift, self.due * best.rate)
            fresh = [shift for shift in beside if all(abs(shift - p.shift) > SAME for p in tried)]
            tried += [place for shift in fresh if (place := self._tried(shift, best.rate))]
            if max(tried, key=_evidence_of) is best:
                break
        distinct: list[OffsetCandidate] = []
        for place in sorted(tried, key=_evidence_of, reverse=True):
            if all(abs(place.later - other.later) > SAME for other in distinct):
                distinct.append(place)
        return distinct

    def _tried(self, shift: float, rate: float) -> OffsetCandidate | None:
        expected = self.due * rate + shift
        there = within(expected, self.seconds)
        chosen = there[:TRIED]
        if not len(chosen):
            return None
        extra_rate = max(LEAST_EXTRA_RATE, EXTRA_SHARE * len(self.thuds) / max(self.seconds, 1.0))
        lead, evidence = _evidence(expected[chosen], self.thuds, extra_rate)
        moved = float(lead.mean())
        if not len(within(expected + moved, self.seconds)):
            return None
        if len(chosen) < len(there):
            first = float(expected[chosen[0]])
            before = self.thuds.between(first - QUIET, first - MERGED)
            evidence += WORTH * (len(there) - len(chosen) - len(before))
        if self.placed:
            evidence -= 0.5 * ((shift + moved - USUAL_LEAD) / LEAD_RANGE) ** 2
        later = float(expected[chosen].mean() + moved - self.due[chosen].mean())
        return OffsetCandidate(shift + moved, rate, evidence, later, float(lead[0]) - moved)


def _evidence_of(place: OffsetCandidate) -> float:
    return place.evidence


def _evidence(expected: Floats, thuds: Thuds, extra_rate: float) -> tuple[Floats, float]:
    """Return the lead of each sound, and how much better than chance they explain the thuds.

    That is in nats. The same rate of extra thuds is held against each place, so that none gains by
    leaving thuds out.
    """
    near = thuds.between(expected[0] - 1, expected[-1] + 1)
    mixture = fit(expected, near, follow(expected, near, 0.0), TRIED_ROUNDS)
    mixture = replace(mixture, heard=USUALLY_HEARD, extra_rate=extra_rate)
    offered = choices(mixture, near.weights)
    gains = {(sound, thud): gain for sound, thud, gain in offered}
    gained = np.full(len(expected), math.log1p(-USUALLY_HEARD))
    for pair in pair_up(offered):
        gained[pair[0]] += gains[pair]
    return mixture.lead, _best_with_stops(gained)


def _best_with_stops(gained: Floats) -> float:
    """Return what the sounds explain, in nats, where nothing in a stop is taken amiss.

    Else the sounds that are missing after a drop would pay for one that is missing at the start,
    and a place a beat out would be as good.
    """
    going, gone = 0.0, -STOPPING
    for gain in gained.tolist():
        going, gone = max(going, gone) + gain, max(going - STOPPING, gone)
    return max(going, gone)


@dataclass(frozen=True, slots=True, eq=False)
class Aligned:
    """Expected sounds and the thuds that are theirs."""

    catches: tuple[Catch, ...]
    """All that were expected, in order; none where no pattern is known."""
    sounds: tuple[tuple[int, ...], ...]
    """The catches of each sound that lies on the take, as indices."""
    expected: Floats
    """When each of these sounds was expected, in seconds of the take."""
    thud: tuple[int | None, ...]
    """The thud of each sound, as an index, None where none was heard."""
    thuds: Thuds
    """All that was heard."""
    mixture: Mixture
    """The lead, the spread and how many were heard."""
    placed: bool
    """Whether the catches came on the take's clock, so that the lead means something."""
    rate: float = 1.0
    """Seconds of the take in a second of the timeline, about."""
    certainty: float = 1.0
    """How surely the catches are at this place and not at another that is nearly as
    good, 0 to 1."""

    @property
    def asynchrony(self) -> Floats:
        """Of each sound, in seconds; not a number where none was heard."""
        heard = [math.nan if thud is None else float(self.thuds.times[thud]) for thud in self.thud]
        return np.array(heard) - self.expected

    @property
    def extra(self) -> tuple[int, ...]:
        """The thuds that are no catch, as indices."""
        used = set(self.thud)
        return tuple(index for index in range(len(self.thuds.times)) if index not in used)

    @property
    def extra_times(self) -> tuple[float, ...]:
        """When they were heard, in seconds of the take, in order."""
        return tuple(self.thuds.times[list(self.extra)].tolist())


def align(
    catches: Sequence[Catch], thuds: Thuds, seconds: float, *, placed: bool
) -> Aligned | None:
    """Return the catches with their thuds; None where there is nothing to compare.

    `catches` are in order of time; in seconds of the take if they are placed. `placed` says whether
    the catches are on the take's clock, so that only a lead is not known.
    """
    groups = sounds_of([catch.time for catch in catches])
    if not groups or not len(thuds):
        return None
    due = np.array([catches[group[0]].time for group in groups])
    places = Search(due, thuds, seconds, placed).places()
    if not places:
        return None
    best = places[0]
    there = within(due * best.rate + best.shift, seconds)
    # Without the call on the take a lead cannot be told from the shift, and is taken into it.
    expected = due[there] * best.rate + (0.0 if placed else best.shift)
    start = best.lead + (best.shift if placed else 0.0)
    mixture, thud = _heard(expected, thuds, start, EASE)
    return Aligned(
        catches=tuple(catches),
        sounds=tuple(groups[index] for index in there),
        expected=expected,
        thud=thud,
        thuds=thuds,
        mixture=mixture,
        placed=placed,
        rate=best.rate,
        certainty=certainty(places),
    )


def align_near(catches: Sequence[Catch], thuds: Thuds, lead: float) -> Aligned | None:
    """Return catches that are on the clock of the thuds with their thuds; None without either.

    `catches` are in order of time. `lead` is what the lead is at first, in seconds, to a tenth of a
    second or so: that all is a beat out is taken for unlikely.
    """
    sounds = sounds_of([catch.time for catch in catches])
    if not sounds or not len(thuds):
        return None
    expected = np.array([catches[sound[0]].time for sound in sounds])
    mixture, thud = _heard(expected, thuds, lead, EASE)
    return Aligned(
        catches=tuple(catches),
        sounds=tuple(sounds),
        expected=expected,
        thud=thud,
        thuds=thuds,
        mixture=mixture,
        placed=True,
    )


def align_to_grid(grid: Sequence[float], thuds: Thuds) -> Aligned:
    """Return the places of a beat grid with their thuds; no pattern is known.

    `grid` is when a catch falls due, in seconds of the take, in order; at least one.
    """
    expected = np.asarray(grid, dtype=np.float64)
    mixture, thud = _heard(expected, thuds, 0.0)
    return Aligned(
        catches=(),
        sounds=((),) * len(expected),
        expected=expected,
        thud=thud,
        thuds=thuds,
        mixture=mixture,
        placed=False,
    )


def _heard(
    expected: Floats, thuds: Thuds, start: float, start_ease: float = START_EASE
) -> tuple[Mixture, tuple[int | None, ...]]:
    """Return the mixture that fits best, and the thud of each sound."""
    mixture = fit(expected, thuds, follow(expected, thuds, start, start_ease))
    pairs = dict(pair_up(choices(mixture, thuds.weights)))
    return mixture, tuple(pairs.get(index) for index in range(len(expected)))
