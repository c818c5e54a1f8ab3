"""Gaps that look like a drop, and the throw before them.

A detector misses a catch now and then; a dropped object is missing for good. Two things may
happen: everything stops, mostly within a beat or two, or the rest goes on without one object. So
a drop is a stretch of catches, of all objects or of one, that is far likelier to have stopped
than to have been missed so often in a row. It began with the first catch missing: when everything
stops, others that were in the air are still caught, so that it may lie a few catches earlier, if
nothing more is heard of its object.
"""

import math
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from engine.catching.dues import Due, Row, chances, outside, quiet
from engine.catching.expected import Catch
from engine.catching.mixture import LEAST_STRAYS

FALSE_ALARMS: Final = 0.01
"""Runs of mere misses in a take that are taken for a drop, at most, on average."""

SHORTEST_STOP: Final = 1.2
"""Seconds; nobody picks up an object and goes on sooner."""

STILL_CAUGHT: Final = 0.6
"""The chance of each further catch between a drop and the end of all: a guess of ours."""

STILL_FLYING: Final = 2.0
"""Beats for which throws go on after a drop; what they throw comes down a flight later."""

UNKNOWN_REACH: Final = 1.2
"""Seconds for which others may yet be caught, where no pattern tells how high they were."""

AGAIN_MISSED: Final = 0.3
"""The chance that a miss follows on a miss, when something drowns the catches for a while."""

USUAL_BETWEEN: Final = 300
"""Catches from drop to drop, about, before anything is known."""

ROUNDS: Final = 5
"""How often the shares heard and the stops are worked out from each other, at most."""

BY_CHANCE: Final = 0.05
"""The chance that a stray is taken for a catch that was not there."""

MOST_FOR_GOING: Final = -6.0
"""Nats that a thud right in place adds for a stop, at least."""

TINY: Final = 1e-6
"""The chance that such a thud is a stray, at least."""

TO_THE_FLOOR: Final = (0.1, 0.6)
FLOOR_HEARD: Final = 0.7
"""Seconds from a catch that fails to the floor, and the chance that this is heard. An object that
comes down at g F / 2 past hands a metre up takes 0.35 s after a flight F of a quarter of a second,
and 0.19 s after one of 0.9 s; one that collides goes its own way."""

MOST_SURE: Final = 30.0
"""Nats beyond which more misses make it no surer."""

Kind: TypeAlias = Literal["stopped", "one object"]


@dataclass(frozen=True, slots=True)
class Drop:
    """A gap that looks like a drop.

    Parameters
    ----------
    time
        When the first missing catch was due, in seconds of the take.
    catch
        That catch, and so the throw before the gap; None where no pattern is known.
    kind
        Whether everything stopped, or all but one object went on.
    missing
        Catches in a row that are missing; of that object, where it is one.
    resumed
        When catches are heard again, in seconds of the take; None if they are not.
    sureness
        How surely it is no row of misses, 0 to 1.
    """

    time: float
    catch: Catch | None
    kind: Kind
    missing: int
    resumed: float | None
    sureness: float


def find_drops(
    dues: Sequence[Due], strays: Sequence[float] = (), stray_rate: float = LEAST_STRAYS
) -> tuple[Drop, ...]:
    """Return the gaps that look like a drop, in order.

    Parameters
    ----------
    dues
        Every sound that was due on the take, in order.
    strays
        When thuds were heard that are no catch, in seconds of the take, in order.
    stray_rate
        Stray sounds a second while all is well.
    """
    heard = [index for index, due in enumerate(dues) if due.heard]
    if not heard:
        return ()
    judge = _Judge(dues[heard[0] :], strays, max(stray_rate, LEAST_STRAYS))
    stops = judge.stops()
    drops = [judge.stopped(start, end) for start, end in stops]
    drops += judge.lost_objects(stops)
    return tuple(sorted(drops, key=lambda drop: drop.time))


class _Judge:
    """Judges rows of misses, knowing how often each kind of throw is heard while all is well."""

    def __init__(self, dues: Sequence[Due], strays: Sequence[float], stray_rate: float) -> None:
        self._dues = dues
        self._strays = strays
        self._stray_rate = stray_rate
        self._cost = math.log(len(dues) / FALSE_ALARMS)
        self._chances = chances(dues, quiet(dues))

    def stops(self) -> list[Row]:
        """Return where everything stopped."""
        found: list[Row] = []
        for _ in range(ROUNDS):
            before, rows = found, self._rows(range(len(self._dues)))
            found = [row for row in rows if self._lasts(*row)]
            self._chances = chances(self._dues, found)
            if found == before:
                break
        return found

    def stopped(self, start: int, end: int) -> Drop:
        """Return the drop that led to a stop from the sound `start` up to `end`."""
        first, catch = self._fell(start)
        missing = [index for index in range(first, end) if not self._dues[index].heard]
        return Drop(
            time=self._dues[first].time,
            catch=catch,
            kind="stopped",
            missing=len(missing),
            resumed=self._dues[end].time if end < len(self._dues) else None,
            sureness=self._sureness(missing),
        )

    def lost_objects(self, stops: Sequence[Row]) -> Iterator[Drop]:
        """Yield the drops after which the rest went on."""
        own: dict[str, list[int]] = {}
        for stretch in outside(stops, len(self._dues)):
            for index in stretch:
                catches = self._dues[index].catches
                if len(catches) == 1 and catches[0].object:
                    own.setdefault(catches[0].object, []).append(index)
        for indices in own.values():
            for start, end in self._rows(indices):
                missing = [index for index in indices[start:end] if not self._dues[index].heard]
                first = self._dues[indices[start]]
                yield Drop(
                    time=first.time,
                    catch=first.catches[0],
                    kind="one object",
                    missing=len(missing),
                    resumed=self._dues[indices[end]].time if end < len(indices) else None,
                    sureness=self._sureness(missing),
                )

    def _rows(self, indices: Sequence[int]) -> list[Row]:
        """Return the stretches of these sounds, as places among them, that are likelier gone.

        It is the division into what goes on and what is gone that explains most, where beginning
        to be gone costs as much as makes false alarms rare (Viterbi's algorithm for two states).
        """
        going, gone = 0.0, -math.inf
        rows: _Chain | None = None
        before: _Chain | None = None
        begun = 0
        for place, index in enumerate(indices):
            if going - self._cost > gone:
                gone, begun, before = going - self._cost, place, rows
            gone += self._gain(index)
            if gone > going:
                going, rows = gone, _Chain((begun, place + 1), before)
        return rows.unrolled() if rows else []

    def _gain(self, index: int) -> float:
        """Return how much likelier what was heard of a sound is if everything is gone, in nats."""
        share = self._dues[index].share
        if share > 0:
            return max(math.log(max(1 - share, TINY) / share), MOST_FOR_GOING)
        return math.log((1 - BY_CHANCE) / (1 - self._chances[index]))

    def _lasts(self, start: int, end: int) -> bool:
        return end == len(self._dues) or (
            self._dues[end].time - self._dues[start].time >= SHORTEST_STOP
        )

    def _fell(self, start: int) -> tuple[int, Catch | None]:
        """Return the sound that was missing first of what ends in the stop from `start` on.

        A catch that is missing before it may be where it began, if its object is not heard again
        and the catches in between are no more than were in the air. The thud of an object on the
        floor speaks for a place, too, also where another catch at the same moment hides it.
        """
        last = self._dues[start]
        first, fallen = start, last.catches[0] if last.catches else None
        best = self._floor(last.time)
        latest, reach = self._dues[start - 1], 0.0
        for index in range(start - 1, -1, -1):
            due = self._dues[index]
            reach = max(reach, self._reach(due))
            if latest.time - due.time > reach:
                break
            if due.heard and len(due.catches) < 2:  # noqa: PLR2004 - nobody hides it
                continue
            for catch in due.catches or (None,):
                between = range(index + 1, start)
                worth = self._floor(due.time)
                worth += math.fsum(self._after(other, catch) for other in between)
                worth -= 0.0 if due.heard else math.log(1 - self._chances[index])
                if worth > best:
                    first, fallen, best = index, catch, worth
        return first, fallen

    def _after(self, index: int, fallen: Catch | None) -> float:
        """Return how much a sound speaks for an object that was dropped before it, in nats."""
        due, chance = self._dues[index], self._chances[index]
        if fallen and {catch.object for catch in due.catches} == {fallen.object}:
            return self._gain(index)
        if due.heard:
            return math.log(STILL_CAUGHT / chance)
        return math.log((1 - STILL_CAUGHT) / (1 - chance))

    def _floor(self, time: float) -> float:
        """Return how much a thud, or none, after a catch that failed speaks for a fall, in nats."""
        soonest, latest = TO_THE_FLOOR
        there = bisect_left(self._strays, time + soonest) < bisect_left(self._strays, time + latest)
        by_chance = 1 - math.exp(-self._stray_rate * (latest - soonest))
        fallen = FLOOR_HEARD + (1 - FLOOR_HEARD) * by_chance
        return math.log(fallen / by_chance if there else (1 - fallen) / (1 - by_chance))

    @staticmethod
    def _reach(due: Due) -> float:
        """Return for how many seconds after a drop throws like these may yet be caught."""
        if not due.catches:
            return UNKNOWN_REACH
        flying = max(catch.value for catch in due.catches) + STILL_FLYING
        return flying * 60 / min(catch.tempo for catch in due.catches)

    def _sureness(self, missing: Sequence[int]) -> float:
        """Return the share of such rows that are drops, if misses come in rows too."""
        if not missing:
            return 0.0
        one_by_one = [-math.log(1 - self._chances[index]) for index in missing]
        in_rows = -math.log(AGAIN_MISSED)
        gain = one_by_one[0] + math.fsum(min(each, in_rows) for each in one_by_one[1:])
        return 1 / (1 + USUAL_BETWEEN * math.exp(-min(gain, MOST_SURE)))


@dataclass(frozen=True, slots=True)
class _Chain:
    """A row and those before it, so that what two divisions share is kept once."""

    row: Row
    before: "_Chain | None"

    def unrolled(self) -> list[Row]:
        """Return the rows in order."""
        rows = [self.row]
        chain = self.before
        while chain:
            rows.append(chain.row)
            chain = chain.before
        return rows[::-1]
