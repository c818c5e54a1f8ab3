"""Where on the take the expected catches lie, and how surely there and not elsewhere.

Every shift that may be meant is tried (`shifts`), at every pace that may be: the lead is followed
from there, thuds are paired, and what the pairs gain, less what goes unheard but for stops, is the
evidence for the place.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from engine.catching.cadence import grid_tempos, overall
from engine.catching.heard import Floats, Indices, Thuds
from engine.catching.lead import follow
from engine.catching.mixture import LEAST_EXTRA_RATE, fit
from engine.catching.pairing import choices, pair_up
from engine.catching.shifts import around, shifts
from engine.catching.together import MERGED

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
"""What places are compared with: the share of sounds that is heard, and of thuds that is stray."""

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
