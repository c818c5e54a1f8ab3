"""The start of a drop: which catch failed first, from all that is heard around it.

A catch that went unheard shortly before looks like the start; an extra thud, or the object on the
floor, looks like a catch that was made. So every catch that may have failed is tried together with
every way in which the pattern may have gone on: throws for some more beats, of which some share is
caught. Each of these hypotheses gives the likelihood of the thuds that were heard, and Bayes' rule
gives the probability of each catch.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np

from throwcount.engine.patterns.pattern import Throw
from throwcount.engine.takes.catches import Catch, Floats, Indices, flown_beats
from throwcount.engine.takes.expected_onsets import ExpectedOnset, TakeStatistics
from throwcount.engine.takes.mixture import bumps

REACTIONS: Final = ((0.0, 1.0), (0.5, 2.0), (1.0, 2.0), (1.5, 2.0), (2.0, 1.0), (3.0, 1.0))
"""Beats for which throws go on after a drop, and the relative weight of each."""

CAUGHT: Final = ((0.05, 1.0), (0.6, 2.0), (0.95, 1.0))
"""The share of what is then in the air that is caught, and the relative weight of each: nearly all
is dropped, some is caught, or nearly all is collected. Both priors are estimates of our own."""

ON_THE_FLOOR: Final = ((0.15, 0.45, 2.7), (0.45, 1.5, 1.0), (1.5, 4.0, 0.3))
"""Earliest and latest time after a catch that fails, in seconds, and the thuds a second from the
floor between them: an object that comes down at g F / 2 past hands a metre up takes 0.35 s after a
flight F of a quarter of a second, and 0.19 s after one of 0.9 s; it bounces, and is picked up. What
else fails comes down likewise, or is held. The rates are estimates of our own."""

OF_FALLS: Final = (0.5, 1.0, 2.0)
"""Shares of these thuds that are heard, each as likely: from beanbags on a carpet to balls."""

UNKNOWN_FLIGHT: Final = 0.7
UNKNOWN_REACH: Final = 1.9
"""Seconds in the air, and from a drop to the last sound that may still be heard, if no pattern is
known."""

UNKNOWN: Final = -1
"""The number of an object that is not known."""

STILL_HEARD: Final = 4.0
"""Beats from a drop to the last throw that may still be heard, or an extra onset that is taken for
it."""

DOWN: Final = 0.8
"""Seconds from a catch that fails until its object has come down."""

AROUND: Final = 4.0
"""Standard deviations about the first and the last sound within which a thud may be of it."""

ABOUT_A_BEAT: Final = 1.05
"""Beats that count as one, as beats are not all of one length."""

ON_IT: Final = 0.5
"""The value of naming the very catch, if one within a beat is worth 1."""


@dataclass(frozen=True, slots=True)
class Way:
    """A way in which the pattern may go on after a drop."""

    reaction: float
    """Beats for which throws go on."""
    caught: float
    """The share of what is then in the air that is caught, 0 to 1."""
    chance: float
    """Its prior probability."""


_TOTAL: Final = math.fsum(share for _, share in REACTIONS) * math.fsum(share for _, share in CAUGHT)

ALL_STOPS: Final = tuple(
    Way(reaction, caught, likely * weight / _TOTAL)
    for reaction, likely in REACTIONS
    for caught, weight in CAUGHT
)
"""Everything stops."""

REST_GOES_ON: Final = (Way(math.inf, 1.0, 1.0),)
"""All but the one object go on."""


@dataclass(frozen=True, slots=True)
class DropStart:
    """The likeliest beginning of a drop."""

    index: int
    """The index of the sound, among those that were due."""
    catch: Catch | None
    """The catch that failed; None if no pattern is known."""
    within_beat: float
    """The probability that it was there or within a beat of there."""


@dataclass(frozen=True, slots=True, eq=False)
class _Flights:
    """The catches of successive sounds; without a pattern, one for each sound."""

    due: Indices
    """For each catch, the index of its sound."""
    caught: Floats
    """When each is caught, in seconds of the take."""
    thrown: Floats
    """When each was thrown, in seconds of the take."""
    beat: Floats
    """The period at each, in seconds a beat."""
    object: Indices
    """A number for each object; UNKNOWN if it has no name."""
    catches: tuple[Catch | None, ...]
    """The catches themselves; None if no pattern is known."""


def earliest(expected: Sequence[ExpectedOnset], start: int, least: int = 0) -> int:
    """Return the first sound, from `least` on, that may have failed if all stopped by `start`."""
    first, reach = start, _reach(expected[start])
    while first > least:
        reach = max(reach, _reach(expected[first - 1]))
        if expected[start].time - expected[first - 1].time > reach:
            break
        first -= 1
    return first


def end_of_fall(expected: Sequence[ExpectedOnset], index: int, end: int | None = None) -> int:
    """Return the end of the sounds, at most `end`, during which what failed at `index` may fall."""
    last, end = index + 1, len(expected) if end is None else end
    while last < end and expected[last - 1].time - expected[index].time <= DOWN:
        last += 1
    return last


def drop_start(
    expected: Sequence[ExpectedOnset],
    chances: Sequence[float],
    background: TakeStatistics,
    tried: Iterable[int],
    ways: Sequence[Way] = ALL_STOPS,
) -> DropStart:
    """Return the likeliest beginning of a drop.

    `expected` holds successive sounds around the drop, up to the time at which an object lies still
    that failed where it seems to have; otherwise later sounds would be taken for it. `chances`
    are their probabilities of being heard while all goes well, between 0 and 1. `tried` holds the
    indices of the sounds that may be the first to fail, at least one.
    """
    scene = _Scene(expected, np.array(chances), background, ways)
    flights = scene.flights
    places = set(tried)
    tries = [index for index, place in enumerate(flights.due.tolist()) if place in places]
    nats = np.array([scene.nats(index) for index in tries])
    chance = np.exp(nats - nats.max())
    chance /= chance.sum()
    when = flights.caught[tries]
    distance = np.abs(when[:, np.newaxis] - when)
    near = (distance <= ABOUT_A_BEAT * flights.beat[tries]) @ chance
    best = int(np.argmax(near + ON_IT * chance))
    index = tries[best]
    return DropStart(int(flights.due[index]), flights.catches[index], min(float(near[best]), 1.0))


class _Scene:
    """The sounds around a drop, and what was heard there."""

    def __init__(
        self,
        expected: Sequence[ExpectedOnset],
        chances: Floats,
        background: TakeStatistics,
        ways: Sequence[Way],
    ) -> None:
        self._reaction = np.array([way.reaction for way in ways])[:, np.newaxis]
        self._caught = np.array([way.caught for way in ways])[:, np.newaxis]
        self._chance = np.log([way.chance for way in ways])
        self._heard = chances
        self._when = np.array([due.time for due in expected])
        gap = float(np.median(np.diff(self._when))) if len(expected) > 1 else 0.0
        self.flights = flights = _flights(expected, background.rate, gap)
        self._first = np.flatnonzero(np.diff(flights.due, prepend=-1))
        margin = AROUND * background.spread
        # A thud after the last sound counts too, but not if it may be of the next one.
        after = max(margin, gap - margin)
        near = background.thuds.between(self._when[0] - margin, self._when[-1] + after)
        end = float(self._when[-1] + after)
        late = near.times - flights.caught[:, np.newaxis]
        bump = bumps(late, background.spread)
        number = np.diff(np.append(self._first, len(flights.due)))[:, np.newaxis]
        # The likelihood ratio of each thud being of each sound against being extra.
        per_extra = near.weights / background.extra_rate
        self._odds = np.add.reduceat(bump, self._first) / number * per_extra
        # The same for being of each catch on the floor, and how many thuds that makes in all.
        # What falls need not sound like a catch.
        self._floor = _floor(late) * near.confidence / background.extra_confidence
        self._fallen = np.array([_fallen(end - caught) for caught in flights.caught.tolist()])

    def nats(self, index: int) -> float:
        """Return the log likelihood of all that was heard if this catch failed first."""
        made, fails = self._made(index)
        heard = made * self._heard
        first = np.zeros_like(fails)
        first[:, index] = 1.0
        each = []
        # Those that fail later may be heard on the floor as the first is, or may not.
        for share, falling in product(OF_FALLS, (first, fails)):
            usual, in_all = falling @ self._floor, falling @ self._fallen
            floor = 1 + share * usual
            odds = np.matmul(self._odds, (1 / floor)[:, :, np.newaxis])[:, :, 0]
            fallen = np.log(floor).sum(axis=1) - share * in_all
            each.append(np.log(1 - heard + heard * odds).sum(axis=1) + self._chance + fallen)
        return float(np.logaddexp.reduce(np.concatenate(each)))

    def _made(self, index: int) -> tuple[Floats, Floats]:
        """Return the probabilities that each sound is made, and that each catch fails.

        There is a row of them for each way to go on after a catch failed.
        """
        flights = self.flights
        failed = flights.caught[index]
        stopped = failed + self._reaction * flights.beat[index]
        after = np.arange(len(flights.due)) >= index
        own = (flights.object == flights.object[index]) & (flights.object[index] != UNKNOWN)
        thrown = flights.thrown < stopped
        made = np.where(after, np.where(own | ~thrown, 0.0, self._caught), 1.0)
        fails = np.where(after & ~own & thrown, 1 - self._caught, 0.0)
        made[:, index], fails[:, index] = 0.0, 1.0
        return 1 - np.multiply.reduceat(1 - made, self._first, axis=1), fails


def _floor(late: Floats) -> Floats:
    """Return the thuds a second from the floor, `late` seconds after a catch that failed."""
    return sum(
        (
            np.where((late >= soonest) & (late < latest), rate, 0.0)
            for soonest, latest, rate in ON_THE_FLOOR
        ),
        start=np.zeros_like(late),
    )


def _fallen(until: float) -> float:
    """Return how many thuds come from the floor until so many seconds after a catch that failed."""
    return math.fsum(
        rate * (min(max(until, soonest), latest) - soonest)
        for soonest, latest, rate in ON_THE_FLOOR
    )


def _flights(expected: Sequence[ExpectedOnset], rate: float, gap: float) -> _Flights:
    """Return the catches of these sounds.

    `rate` is in seconds of the take in a second of the timeline, and `gap` in seconds from sound to
    sound, for those without a pattern.
    """
    numbers: dict[str, int] = {}
    places, objects = [], []
    times: list[tuple[float, float, float]] = []
    catches: list[Catch | None] = []
    for place, due in enumerate(expected):
        for catch in due.catches or (None,):
            if catch is None:
                times.append((due.time, due.time - UNKNOWN_FLIGHT, gap))
            else:
                beat = rate * 60 / catch.tempo
                caught = due.time + rate * (catch.time - due.catches[0].time)
                flown = flown_beats(Throw(catch.value, catch.throw.endswith("x")))
                times.append((caught, caught - flown * beat, beat))
            places.append(place)
            name = catch.object if catch else ""
            objects.append(numbers.setdefault(name, len(numbers)) if name else UNKNOWN)
            catches.append(catch)
    when, thrown, beats = np.array(times).T
    return _Flights(np.array(places), when, thrown, beats, np.array(objects), tuple(catches))


def _reach(due: ExpectedOnset) -> float:
    """Return for how many seconds after a drop throws like these may still be heard."""
    if not due.catches:
        return UNKNOWN_REACH
    flying = max(catch.value for catch in due.catches) + STILL_HEARD
    return flying * 60 / min(catch.tempo for catch in due.catches)
