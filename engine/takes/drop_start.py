"""Which catch failed first: the beginning of a drop, by all that is heard around it.

A catch that went unheard shortly before looks like the beginning; an extra sound, or the object on
the floor, looks like a catch that was made. So every catch that may have failed is tried, with
every way in which it may have gone on: throws for so many beats more, of which so many are caught.
Each says how likely each thud was, and where none was likely; the catches have their chances from
that by Bayes' rule.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from throwcount.engine.takes.catches import MERGED, Catch, Floats, Indices, flown_beats
from throwcount.engine.takes.expected_onsets import ExpectedOnset, TakeStatistics
from throwcount.engine.takes.mixture import bumps

REACTIONS: Final = ((0.0, 1.0), (0.5, 2.0), (1.0, 2.0), (1.5, 2.0), (2.0, 1.0), (3.0, 1.0))
"""Beats for which throws go on after a drop, and how likely that is against the others."""

CAUGHT: Final = ((0.05, 1.0), (0.6, 2.0), (0.95, 1.0))
"""The share of what is in the air by then that is caught, and how likely that is: all drop what
they hold, some is caught, or all is collected. Both are guesses of ours."""

TO_THE_FLOOR: Final = ((0.15, 0.45, 0.6), (0.05, 0.8, 0.2))
"""Seconds from a catch that fails to the floor, and the chance that it is heard between them, which
add up: mostly between the first two, else sooner or later or not at all. An object that comes down
at g F / 2 past hands a metre up takes 0.35 s after a flight F of a quarter of a second, and 0.19 s
after one of 0.9 s; one that collides goes its own way."""

UNKNOWN_FLIGHT: Final = 0.7
UNKNOWN_REACH: Final = 1.9
"""Seconds in the air, and from a drop to the last sound that may yet be heard, where no pattern
tells them."""

UNKNOWN: Final = -1
"""The number of an object of which it is not known which it is."""

STILL_HEARD: Final = 4.0
"""Beats from a drop to the last throw that may yet be heard, or an extra onset that is taken for
it."""

DOWN: Final = max(latest for _, latest, _ in TO_THE_FLOOR)
"""Seconds from a catch that fails until its object lies still."""

AROUND: Final = 4.0
"""Spreads around the first and the last sound within which a thud may be of it."""

ABOUT_A_BEAT: Final = 1.05
"""Beats that are taken for one, as beats are not all as long."""

ON_IT: Final = 0.5
"""What it is worth to name the very catch, if one within a beat is worth 1."""


@dataclass(frozen=True, slots=True)
class Way:
    """A way in which it may go on after a drop."""

    reaction: float
    """Beats for which throws go on."""
    caught: float
    """The share of what is in the air by then that is caught, 0 to 1."""
    chance: float
    """How likely this way is, 0 to 1."""


def _ways() -> tuple[Way, ...]:
    total = math.fsum(weight for _, weight in REACTIONS) * math.fsum(weight for _, weight in CAUGHT)
    return tuple(
        Way(reaction, caught, likely * weight / total)
        for reaction, likely in REACTIONS
        for caught, weight in CAUGHT
    )


ALL_STOPS: Final = _ways()
"""Everything stops."""

REST_GOES_ON: Final = (Way(math.inf, 1.0, 1.0),)
"""All but the one object go on."""


@dataclass(frozen=True, slots=True)
class Beginning:
    """The likeliest beginning of a drop."""

    index: int
    """The number of the sound, among those that were due."""
    catch: Catch | None
    """Its catch that failed; None where no pattern is known."""
    within_beat: float
    """The chance that it was there or within a beat of there, 0 to 1."""


@dataclass(frozen=True, slots=True, eq=False)
class _Flights:
    """The catches of some sounds in a row, those without a pattern as one each."""

    due: Indices
    """For each catch, the place of its sound among these sounds."""
    caught: Floats
    """When each is caught, in seconds of the take."""
    thrown: Floats
    """When each was thrown, in seconds of the take."""
    beat: Floats
    """Seconds between two beats."""
    object: Indices
    """A number for each object, UNKNOWN where it has none."""
    catches: tuple[Catch | None, ...]
    """The catches themselves; None where no pattern is known."""


def earliest(expected: Sequence[ExpectedOnset], start: int, least: int = 0) -> int:
    """Return the first sound, from `least` on, that may have failed if all stopped at `start`."""
    first, reach = start, _reach(expected[start])
    while first > least:
        reach = max(reach, _reach(expected[first - 1]))
        if expected[start].time - expected[first - 1].time > reach:
            break
        first -= 1
    return first


def end_of_fall(expected: Sequence[ExpectedOnset], index: int, end: int | None = None) -> int:
    """Return the end, `end` at most, of the sounds during which what failed at `index` may fall."""
    last, end = index + 1, len(expected) if end is None else end
    while last < end and expected[last - 1].time - expected[index].time <= DOWN:
        last += 1
    return last


def beginning(
    expected: Sequence[ExpectedOnset],
    chances: Sequence[float],
    background: TakeStatistics,
    tried: Iterable[int],
    ways: Sequence[Way] = ALL_STOPS,
) -> Beginning:
    """Return the likeliest beginning of a drop.

    Parameters
    ----------
    expected
        Sounds in a row, those around the drop, and on until an object lies still that failed at the
        last of those tried: else the sounds after them would pass for it.
    chances
        How likely each is to be heard while all is well, more than 0 and less than 1.
    tried
        The places of the sounds that may be the first to fail, at least one.
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
    return Beginning(int(flights.due[index]), flights.catches[index], min(float(near[best]), 1.0))


class _Scene:
    """The sounds around a drop, and what was heard of them."""

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
        # What falls after the last sound is heard, too, but not what may be of the next.
        after = max(margin, gap - margin)
        near = background.thuds.between(self._when[0] - margin, self._when[-1] + after)
        self._thuds = near.times
        self._extra_rates = near.weights / background.extra_rate
        bump = bumps(near.times - flights.caught[:, np.newaxis], background.spread)
        number = np.diff(np.append(self._first, len(flights.due)))[:, np.newaxis]
        # How many times as likely each thud is where each sound is heard than as an extra thud.
        self._odds = np.add.reduceat(bump, self._first) / number * self._extra_rates
        self._all_odds = self._odds.sum(axis=1)

    def nats(self, index: int) -> float:
        """Return how likely all that was heard is if this catch failed first, as a logarithm."""
        made = self._made(index)
        explained = self._explained(made, self._all_odds)
        fallen = np.full(len(made), 1 - math.fsum(chance for *_, chance in TO_THE_FLOOR))
        floor = _floor(self._thuds - self.flights.caught[index])
        for thud in np.flatnonzero(floor):
            others = self._all_odds - self._odds[:, thud]
            # What follows it closely is not heard, and what it follows closely hides it.
            masked = (self._when > self._thuds[thud]) & (self._when < self._thuds[thud] + MERGED)
            without = self._explained(made, np.where(masked, 1.0, others)) - explained
            fallen += floor[thud] * (
                self._extra_rates[thud] * np.exp(np.minimum(without, 50)) + MERGED
            )
        each = explained + np.log(fallen) + self._chance
        return float(np.logaddexp.reduce(each))

    def _made(self, index: int) -> Floats:
        """Return the chance that each sound is made, by each way to go on after this catch."""
        flights = self.flights
        failed = flights.caught[index]
        stopped = failed + self._reaction * flights.beat[index]
        after = np.arange(len(flights.due)) >= index
        own = (flights.object == flights.object[index]) & (flights.object[index] != UNKNOWN)
        in_air = np.where(flights.thrown < stopped, self._caught, 0.0)
        made = np.where(after, np.where(own, 0.0, in_air), 1.0)
        made[:, index] = 0.0
        return 1 - np.multiply.reduceat(1 - made, self._first, axis=1)

    def _explained(self, made: Floats, odds: Floats) -> Floats:
        """Return how well each way explains the thuds that are catches, in nats."""
        heard = made * self._heard
        nats: Floats = np.log(1 - heard + heard * odds).sum(axis=1)
        return nats


def _floor(late: Floats) -> Floats:
    """Return how likely the object is heard on the floor so many seconds late, for a second."""
    return sum(
        (
            np.where((late >= soonest) & (late <= latest), chance / (latest - soonest), 0.0)
            for soonest, latest, chance in TO_THE_FLOOR
        ),
        start=np.zeros_like(late),
    )


def _flights(expected: Sequence[ExpectedOnset], rate: float, gap: float) -> _Flights:
    """Return the catches of these sounds.

    They have so many seconds of the take in one of the timeline, and so many from one to the next.
    """
    numbers: dict[str, int] = {}
    places, objects = [], []
    times: list[tuple[float, float, float]] = []
    catches: list[Catch | None] = []
    for place, due in enumerate(expected):
        for catch in due.catches or (None,):
            places.append(place)
            times.append(_times(due, catch, rate) if catch else _times_unknown(due, gap))
            name = catch.object if catch else ""
            objects.append(numbers.setdefault(name, len(numbers)) if name else UNKNOWN)
            catches.append(catch)
    caught, thrown, beat = np.array(times).T
    return _Flights(np.array(places), caught, thrown, beat, np.array(objects), tuple(catches))


def _times(due: ExpectedOnset, catch: Catch, rate: float) -> tuple[float, float, float]:
    """Return when it is caught and was thrown, and the seconds between two beats."""
    beat = rate * 60 / catch.tempo
    caught = due.time + rate * (catch.time - due.catches[0].time)
    return caught, caught - flown_beats(catch) * beat, beat


def _times_unknown(due: ExpectedOnset, gap: float) -> tuple[float, float, float]:
    """Return the same where no pattern is known, with so many seconds between two sounds."""
    return due.time, due.time - UNKNOWN_FLIGHT, gap


def _reach(due: ExpectedOnset) -> float:
    """Return for how many seconds after a drop throws like these may yet be heard."""
    if not due.catches:
        return UNKNOWN_REACH
    flying = max(catch.value for catch in due.catches) + STILL_HEARD
    return flying * 60 / min(catch.tempo for catch in due.catches)
