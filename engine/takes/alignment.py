"""Alignment: which thud is which expected catch.

If the call was found on the take, expected catches are on the take's clock but for a lead. Else
their offset is searched for, and their pace too, as a juggler who hears no beat keeps to a tempo
only roughly. Every candidate offset (`offsets.shifts`) is tried at every pace in question: the
lead is followed from there, thuds are paired, and the gain of the pairs, less the cost of sounds
that go unheard though their object is not lost and all has not stopped, is the evidence for that
candidate, a log likelihood ratio in nats.

At the best candidate, the lead is followed (`offsets.follow`), spread and extra onsets are fitted
(`mixture.fit`), and each sound is paired with at most one thud (`mixture.pair_up`).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from throwcount.engine.takes.beat_grid import beat_grid, ends, grid_tempos, overall
from throwcount.engine.takes.catches import (
    MERGED,
    Catch,
    Floats,
    Indices,
    Thuds,
    flown_beats,
    read_throw,
    sounds_of,
    summed,
)
from throwcount.engine.takes.mixture import LEAST_EXTRA_RATE, Mixture, choices, fit, pair_up, paired
from throwcount.engine.takes.offsets import EASE, START_EASE, around, follow, shifts

NEARBY: Final = 0.6
"""Seconds by which catches that are on the take's clock may still be off."""

USUAL_LEAD: Final = -0.03
LEAD_RANGE: Final = 0.08
"""Mean and standard deviation of the lead, in seconds, of people who hear a beat. They tap some 20
to 80 ms early (Repp 2005), and a dwell ratio of 0.6 or 0.7 for 2/3 moves catches by some 30 ms."""

TRIED: Final = 800
"""Sounds on which candidates are compared, at most."""

TRIED_ROUNDS: Final = 30
"""Iterations of the fit for comparing candidates, at most."""

USUALLY_HEARD: Final = 0.9
EXTRA_SHARE: Final = 0.1
"""The share of sounds that are heard, and of thuds that are extra, for comparing candidates."""

STOPPING: Final = 6.0
GOING_ON: Final = 4.0
NOT_STARTING: Final = 12.0
"""Nats that a stop costs, and so does the loss of one object, and going on after a stop, and a run
of which the beginning is missing: dropping out is far likelier than to start many beats late."""

ANOTHER_PACE: Final = 5.0
"""Nats that a pace of the juggler's own costs."""

BEGUN_BEFORE: Final = 0.1
"""The prior probability that a take begins amid a run, on any of its sounds."""

SOONEST: Final = 0.6
AT_ONCE: Final = 6.0
"""Seconds from the start of a take to the first catch, which must be thrown before, and the nats
that it costs to be sooner: then the take rather begins amid the run."""

WORTH: Final = 3.0
QUIET: Final = 3.0
"""If not all sounds are compared: nats that each further sound gains, and that each thud costs in
as many seconds before the first sound."""

MARKS: Final = (2, 4)
MARKING: Final = 0.2
"""How many of the last clicks of the count-in people clap to, and the prior probability that they
do."""

CLAPPED: Final = 0.9
EARLY_CLAP: Final = 0.1
LATE_CLAP: Final = 0.04
"""The probability that such a clap is heard, and seconds before and after its click within which it
falls (people tap some 20 to 80 ms early; Repp 2005)."""

CLIMBS: Final = 8
"""How often the candidates beside the best are tried, at most."""

SAME: Final = 0.06
"""Seconds within which two candidates count as one."""

OWN_PACE: Final = 0.005
OTHER_PACE: Final = 0.15
"""How far a juggler's own pace lies from the tempo asked for, as a share: at least, as anything
nearer is drift, and at most."""

FEWEST: Final = 8
"""Catches, at least, that tell a pace more exactly."""

MULTIPLES: Final = (1.0, 2.0, 0.5, 1.5, 2 / 3)
"""Multiples of the rate of catches that the rate of the beat grid may be."""


Names: TypeAlias = npt.NDArray[np.str_]


@dataclass(frozen=True, slots=True)
class OffsetCandidate:
    """An offset and a pace that were tried."""

    shift: float
    """The time of the take, in seconds, at time 0 of the timeline."""
    rate: float
    """Seconds of the take in a second of the timeline."""
    evidence: float
    """How much better than chance the thuds are explained, in nats."""
    later: float
    """The mean delay of the sounds against the timeline as it is, in seconds."""
    lead: float
    """The lead of the first sounds at this offset and pace, in seconds."""


def within(expected: Floats, seconds: float) -> Indices:
    """Return the indices of the sounds that lie on a take of `seconds`."""
    return np.flatnonzero((expected >= 0) & (expected <= seconds))


def paces(due: Floats, thuds: Thuds) -> tuple[float, ...]:
    """Return the paces to try, in seconds of the take in a second of the timeline; 1 first."""
    asked, kept = _rate(due), _rate(thuds.times[thuds.clear])
    if asked is None or kept is None:
        return (1.0,)
    ratios = [asked / kept * multiple for multiple in MULTIPLES]
    return (1.0, *(ratio for ratio in ratios if OWN_PACE < abs(math.log(ratio)) < OTHER_PACE))


def _rate(times: Floats) -> float | None:
    """Return the usual rate in the middle of the times, in catches a minute."""
    first = max(len(times) - TRIED, 0) // 2
    return overall(grid_tempos(times[first : first + TRIED].tolist()))


def certainty(candidates: Sequence[OffsetCandidate]) -> float:
    """Return the posterior probability of the first candidate among all, by their evidence."""
    best = candidates[0].evidence
    return 1 / math.fsum(math.exp(max(each.evidence - best, -700)) for each in candidates)


@dataclass(frozen=True, slots=True, eq=False)
class Search:
    """A search for the offset of the expected sounds."""

    due: Floats
    """When each sound is expected, in seconds of the timeline, in order."""
    objects: Names
    """The object of each sound; empty if that is unknown, or several objects make it."""
    thuds: Thuds
    """All thuds of the take."""
    seconds: float
    """The length of the take."""
    placed: bool
    """Whether the timeline is on the clock of the take, so that only a lead is unknown."""
    count_in: Floats
    """When each click before the first throw was played, in seconds of the timeline, in order."""

    def candidates(self) -> list[OffsetCandidate]:
        """Return the candidates that were tried, the best first, each once."""
        nearby = NEARBY if self.placed else None
        evidence = attrgetter("evidence")
        tried = [
            one
            for rate in ((1.0,) if self.placed else paces(self.due, self.thuds))
            for shift in shifts(self.due * rate, self.thuds.times, nearby)
            if (one := self._tried(shift, rate))
        ]
        for _ in range(CLIMBS if tried else 0):
            best = max(tried, key=evidence)
            beside = around(best.shift, self.due * best.rate)
            fresh = [shift for shift in beside if all(abs(shift - p.shift) > SAME for p in tried)]
            tried += [one for shift in fresh if (one := self._tried(shift, best.rate))]
            if max(tried, key=evidence) is best:
                break
        distinct: list[OffsetCandidate] = []
        for one in sorted(tried, key=evidence, reverse=True):
            if all(abs(one.later - other.later) > SAME for other in distinct):
                distinct.append(one)
        return distinct

    def _tried(self, shift: float, rate: float) -> OffsetCandidate | None:
        expected = self.due * rate + shift
        there = within(expected, self.seconds)
        chosen = there[:TRIED]
        if not len(chosen):
            return None
        lead, gained = _gained(expected[chosen], self.thuds, self._extra_rate)
        evidence = _evidence(gained, self.objects[chosen])
        moved = float(lead.mean())
        if not len(within(expected + moved, self.seconds)):
            return None
        if len(chosen) < len(there):
            first = float(expected[chosen[0]])
            before = self.thuds.between(first - QUIET, first - MERGED)
            evidence += WORTH * (len(there) - len(chosen) - len(before))
        if self.placed:
            evidence -= 0.5 * ((shift + moved - USUAL_LEAD) / LEAD_RANGE) ** 2
        elif there[0]:
            evidence += math.log(BEGUN_BEFORE / len(self.due))
        elif expected[0] + moved < SOONEST:
            evidence -= AT_ONCE
        if rate != 1:
            evidence -= ANOTHER_PACE
        if not self.placed:
            evidence += self._marked(self.count_in * rate + shift)
        later = float(expected[chosen].mean() + moved - self.due[chosen].mean())
        return OffsetCandidate(shift + moved, rate, evidence, later, float(lead[0]) - moved)

    @property
    def _extra_rate(self) -> float:
        """Extra onsets a second, for comparing candidates."""
        return max(LEAST_EXTRA_RATE, EXTRA_SHARE * len(self.thuds) / max(self.seconds, 1.0))

    def _marked(self, clicks: Floats) -> float:
        """Return the evidence, in nats, that the last two clicks, or four, were clapped along."""
        first, last = np.searchsorted(self.thuds.times, [clicks - EARLY_CLAP, clicks + LATE_CLAP])
        by_chance = -math.expm1(-self._extra_rate * (EARLY_CLAP + LATE_CLAP))
        odds = np.where(last > first, CLAPPED / by_chance, (1 - CLAPPED) / (1 - by_chance))
        each = [float(odds[-number:].prod()) for number in MARKS if number <= len(clicks)]
        return math.log((1 - MARKING) + MARKING / len(MARKS) * math.fsum(each)) if each else 0.0


def _gained(expected: Floats, thuds: Thuds, extra_rate: float) -> tuple[Floats, Floats]:
    """Return the lead of each sound, and its log likelihood ratio against chance, in nats.

    All candidates are given the same rate of extra onsets, so that none gains by leaving thuds out.
    """
    near = thuds.between(expected[0] - 1, expected[-1] + 1)
    mixture = fit(expected, near, follow(expected, near, 0.0), TRIED_ROUNDS)
    mixture = replace(mixture, heard=USUALLY_HEARD, extra_rate=extra_rate)
    offered = choices(mixture, near.weights)
    gains = {(sound, thud): gain for sound, thud, gain in offered}
    gained = np.full(len(expected), math.log1p(-USUALLY_HEARD))
    for pair in pair_up(offered):
        gained[pair[0]] += gains[pair]
    return mixture.lead, gained


def _evidence(gained: Floats, objects: Names) -> float:
    """Return the total gain of the sounds, in nats, if one object or none is lost on the way.

    Otherwise a candidate one beat off, where those missing are of several objects, would cost no
    more than the right one.
    """
    best = _best_with_stops(gained)
    # Where many catches go unheard a miss says little of a loss.
    heard = min(float((gained > math.log1p(-USUALLY_HEARD)).mean()), USUALLY_HEARD)
    if_lost = -np.maximum(gained, math.log1p(-heard))
    for name in set(objects.tolist()) - {""}:
        own = np.flatnonzero(objects == name)[::-1]
        total = np.cumsum(if_lost[own])
        if total.max() > STOPPING:
            gone, without = own[: int(total.argmax()) + 1], gained.copy()
            without[gone] += if_lost[gone]
            best = max(best, _best_with_stops(without) - STOPPING)
    return best


def _best_with_stops(gained: Floats) -> float:
    """Return the total gain of the sounds, in nats, less those within stops (Viterbi's algorithm).

    Otherwise the sounds that are missing after a drop would make up for one that is missing at the
    start, and a candidate one beat off would be as good.
    """
    waiting, going, gone = -NOT_STARTING, 0.0, -math.inf
    for gain in gained.tolist():
        going, gone = (
            max(going, gone - GOING_ON, waiting) + gain,
            max(gone, going - (STOPPING if going > 0 else NOT_STARTING)),
        )
    return max(going, gone)


@dataclass(frozen=True, slots=True, eq=False)
class Aligned:
    """Expected sounds with their thuds."""

    catches: tuple[Catch, ...]
    """All expected catches, in order; none if no pattern is known."""
    sounds: tuple[tuple[int, ...], ...]
    """The catches of each sound that lies on the take, as indices."""
    expected: Floats
    """When each of these sounds was expected, in seconds of the take."""
    thud: tuple[int | None, ...]
    """The index of each sound's thud; None if it was not heard."""
    thuds: Thuds
    """All thuds of the take."""
    mixture: Mixture
    """The fitted mixture."""
    placed: bool
    """Whether the catches came on the take's clock, so that the lead has a meaning."""
    rate: float = 1.0
    """Seconds of the take in a second of the timeline, roughly."""
    certainty: float = 1.0
    """The probability of this offset against others, 0 to 1."""

    @property
    def heard(self) -> int:
        """How many sounds were heard."""
        return len(self.thud) - self.thud.count(None)

    @property
    def asynchrony(self) -> Floats:
        """The asynchrony of each sound, in seconds; not a number where it was not heard."""
        heard = [math.nan if thud is None else float(self.thuds.times[thud]) for thud in self.thud]
        return np.array(heard) - self.expected

    @property
    def catch_share(self) -> Floats:
        """The probability that each thud is a catch, 0 to 1."""
        return summed(self.mixture.share, self.mixture.near.thud, len(self.thuds))

    @property
    def extra(self) -> tuple[int, ...]:
        """The indices of the extra thuds, which belong to no catch, but for doubtful ones."""
        used = set(self.thud)
        return tuple(
            index for index in np.flatnonzero(self.thuds.clear).tolist() if index not in used
        )

    @property
    def extra_times(self) -> tuple[float, ...]:
        """When the extra thuds were heard, in seconds of the take, in order."""
        return tuple(self.thuds.times[list(self.extra)].tolist())


def align(
    catches: Sequence[Catch],
    thuds: Thuds,
    seconds: float,
    *,
    placed: bool,
    clicks: Sequence[float] = (),
) -> Aligned | None:
    """Return the catches with their thuds; None if there is nothing to compare.

    `catches` are in order of time. `placed` says whether they are on the take's clock, so that only
    a lead is unknown. `clicks` are when clicks were played, in order, on the clock of the catches.
    """
    groups = sounds_of([catch.time for catch in catches])
    if not groups or not len(thuds):
        return None
    due = np.array([catches[group[0]].time for group in groups])
    flown = flown_beats(read_throw(catches[0].throw)) if catches[0].throw else 0.0
    thrown = catches[0].time - flown * 60 / catches[0].tempo if flown else due[0]
    count_in = np.array([click for click in clicks if click < thrown - LATE_CLAP])
    objects = np.array([catches[of[0]].object if len(of) == 1 else "" for of in groups])
    candidates = Search(due, objects, thuds, seconds, placed, count_in).candidates()
    if not candidates:
        return None
    best = candidates[0]
    there = within(due * best.rate + best.shift, seconds)
    # Without the call on the take a lead cannot be told from the offset, and is part of it.
    expected = due[there] * best.rate + (0.0 if placed else best.shift)
    start = best.lead + (best.shift if placed else 0.0)
    aligned, rate = align_to_grid(expected, thuds, start, EASE), best.rate
    if not placed:
        rate = _kept_pace(aligned, best.rate)
        moved = (rate / best.rate - 1) * (expected - expected.mean())
        start = float(aligned.mixture.lead[0] - moved[0])
        aligned = align_to_grid(expected + moved, thuds, start, EASE)
    return replace(
        aligned,
        catches=tuple(catches),
        sounds=tuple(groups[index] for index in there),
        placed=placed,
        rate=rate,
        certainty=certainty(candidates),
    )


def _kept_pace(aligned: Aligned, rate: float) -> float:
    """Return the pace with the straight line of the asynchronies in it, or 1 if it is near that."""
    heard = np.array([thud is not None for thud in aligned.thud])
    if heard.sum() > FEWEST:
        rate *= 1 + float(np.polyfit(aligned.expected[heard], aligned.asynchrony[heard], 1)[0])
    return rate if abs(math.log(rate)) > OWN_PACE else 1.0


def align_near(catches: Sequence[Catch], thuds: Thuds, lead: float) -> Aligned | None:
    """Return catches on the clock of the thuds with their thuds; None without either.

    `catches` are in order of time. `lead` is the lead at first, in seconds, to about a tenth of a
    second; no offset of a beat is considered.
    """
    sounds = sounds_of([catch.time for catch in catches])
    if not sounds or not len(thuds):
        return None
    expected = [catches[sound[0]].time for sound in sounds]
    return replace(
        align_to_grid(expected, thuds, lead, EASE),
        catches=tuple(catches),
        sounds=tuple(sounds),
        placed=True,
    )


def align_to_grid(
    grid: Sequence[float] | Floats, thuds: Thuds, start: float = 0.0, ease: float = START_EASE
) -> Aligned:
    """Return the beats of a grid with their thuds, where no pattern is known.

    `grid` holds their times, in seconds of the take, in order, at least one. `start` and `ease` are
    the lead at first and its `start_ease`, as in `offsets.follow`.
    """
    expected = np.asarray(grid, dtype=np.float64)
    mixture = fit(expected, thuds, follow(expected, thuds, start, ease))
    thud = paired(mixture, thuds.weights)
    return Aligned((), ((),) * len(expected), expected, thud, thuds, mixture, placed=False)


def align_to_cadence(thuds: Thuds) -> tuple[Aligned, float] | None:
    """Return the beats of the thuds' own grid with their thuds, and its rate in catches a minute.

    The result is None if the thuds are too few to tell a rate.
    """
    found = grid_tempos(thuds.times.tolist())
    rate = overall(found)
    if rate is None:
        return None
    first, last = ends(thuds.times, rate)
    margin = 0.5 * 60 / rate
    return align_to_grid(beat_grid(found, first - margin, last + margin), thuds), rate
