"""Gaps that look like a drop, and the throw before them.

A detector misses a catch now and then; a dropped object is missing for good. Two things may
happen: everything stops, mostly within a beat or two, or the rest goes on without one object. So
a drop is a stretch of catches, of all objects or of one, that is far likelier to have stopped
than to have been missed so often in a row. Which catch of those around failed first is weighed
apart (`beginning`).

Watching for drops while a set is still thrown.

What is known by now of the last catches is judged as a whole take is (`alignment`, `drops`), each
time that another catch has fallen due; the lead is learned from them. A gap that looks like a drop
is told once, and from then on nothing, until several catches in a row are heard again.
"""

import math
from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Final, Literal, TypeAlias

from throwcount.engine.takes.alignment import Aligned, align_near
from throwcount.engine.takes.catches import Catch, HeardOnset, thuds_of
from throwcount.engine.takes.drop_start import (
    ALL_STOPS,
    REST_GOES_ON,
    Beginning,
    Way,
    beginning,
    earliest,
    end_of_fall,
)
from throwcount.engine.takes.expected_onsets import (
    ExpectedOnset,
    Row,
    TakeStatistics,
    chances,
    expected_onsets,
    indices_of,
    quiet,
    statistics_of,
)

FALSE_ALARMS: Final = 0.01
"""Runs of mere misses in a take that are taken for a drop, at most, on average."""

SHORTEST_STOP: Final = 1.2
"""Seconds; nobody picks up an object and goes on sooner."""

GOING_ON: Final = 3
"""Sounds between two stops without which nothing went on."""

AGAIN_MISSED: Final = 0.3
"""The chance that a miss follows on a miss, when something drowns the catches for a while."""

USUAL_BETWEEN: Final = 300
"""Catches from drop to drop, about, before anything is known."""

ROUNDS_AROUND: Final = 5
"""How many of its catches before and after the first that is missing an object may have failed."""

LONGEST_ROUND: Final = 4.0
"""Seconds from one catch of an object to its next, at most."""

ROUNDS: Final = 5
"""How often the shares heard and the stops are worked out from each other, at most."""

BY_CHANCE: Final = 0.05
"""The chance that an extra thud is taken for a catch that was not there."""

MOST_FOR_GOING: Final = -6.0
"""Nats that a thud right in place adds for a stop, at least."""

TINY: Final = 1e-6
"""The chance that such a thud is extra, at least."""

MOST_CONFIDENT: Final = 30.0
"""Nats beyond which more misses make it no surer."""

Kind: TypeAlias = Literal["stopped", "one object"]


@dataclass(frozen=True, slots=True)
class Drop:
    """A gap that looks like a drop."""

    time: float
    """When the catch that failed first was due, in seconds of the take."""
    catch: Catch | None
    """That catch, and so the throw before the gap; None where no pattern is known."""
    kind: Kind
    """Whether everything stopped, or all but one object went on."""
    missing: int
    """Catches that are missing from there until it goes on; of that object, where it is one."""
    resumed: float | None
    """When catches are heard again, in seconds of the take; None if they are not."""
    confidence: float
    """How surely it is no row of misses, 0 to 1."""
    within_beat: float
    """If it is none, how surely it fell within a beat of that catch, 0 to 1."""


def find_drops(expected: Sequence[ExpectedOnset], background: TakeStatistics) -> tuple[Drop, ...]:
    """Return the gaps that look like a drop, in order.

    `expected` is every sound that was due on the take, in order. `background` is what else is known
    of the take.
    """
    heard = [index for index, due in enumerate(expected) if due.heard]
    if not heard:
        return ()
    judge = _Judge(expected[heard[0] :], background)
    stops = judge.stops()
    again = (0, *(end for _, end in stops))
    drops = [judge.stopped(*stop, least) for stop, least in zip(stops, again, strict=False)]
    drops += judge.lost_objects(stops)
    return tuple(sorted(drops, key=lambda drop: drop.time))


class _Judge:
    """Judges rows of misses, knowing how often each kind of throw is heard while all is well."""

    def __init__(self, expected: Sequence[ExpectedOnset], background: TakeStatistics) -> None:
        self._expected = expected
        self._background = background
        self._cost = math.log(len(expected) / FALSE_ALARMS)
        self._chances = chances(expected, indices_of(quiet(expected)))

    def stops(self) -> list[Row]:
        """Return where everything stopped."""
        found: list[Row] = []
        for _ in range(ROUNDS):
            before, rows = found, self._rows(range(len(self._expected)))
            found = self._joined([row for row in rows if self._lasts(*row)])
            self._chances = chances(self._expected, indices_of(found))
            if found == before:
                break
        return found

    def stopped(self, start: int, end: int, least: int) -> Drop:
        """Return the drop, not before `least`, that led to a stop from `start` up to `end`."""
        tried = range(earliest(self._expected, start, least), start + 1)
        begun = self._beginning(tried, end_of_fall(self._expected, start, end))
        missing = [index for index in range(begun.index, end) if not self._expected[index].heard]
        return Drop(
            time=self._expected[begun.index].time,
            catch=begun.catch,
            kind="stopped",
            missing=len(missing),
            resumed=self._expected[end].time if end < len(self._expected) else None,
            confidence=self._confidence(missing),
            within_beat=begun.within_beat,
        )

    def lost_objects(self, stops: Sequence[Row]) -> Iterator[Drop]:
        """Yield the drops after which the rest went on."""
        gone = set(indices_of(stops))
        found = [(own, *row) for own in self._of_objects(gone).values() for row in self._rows(own)]
        gone.update(index for own, start, end in found for index in own[start:end])
        self._chances = chances(self._expected, gone)
        limits = [0, *chain.from_iterable(stops), len(self._expected)]
        for own, start, end in found:
            after = bisect_right(limits, own[start])
            yield self._lost(own, start, end, range(limits[after - 1], limits[after]))

    def _of_objects(self, gone: Collection[int]) -> dict[str, list[int]]:
        """Return the sounds of each object, those that it shares with others left out."""
        own: dict[str, list[int]] = {}
        for index, due in enumerate(self._expected):
            if index not in gone and len(due.catches) == 1 and due.catches[0].object:
                own.setdefault(due.catches[0].object, []).append(index)
        return own

    def _lost(self, own: Sequence[int], start: int, end: int, between: range) -> Drop:
        """Return the drop of an object whose own sounds are missing from `start` up to `end`.

        It may have begun some rounds sooner or later, but in the same stretch between two stops.
        """
        first = max(start - ROUNDS_AROUND, 0)
        time, reach = self._expected[own[start]].time, ROUNDS_AROUND * LONGEST_ROUND
        tried = [
            index
            for index in own[first : start + ROUNDS_AROUND]
            if index in between and abs(self._expected[index].time - time) <= reach
        ]
        begun = self._beginning(tried, end_of_fall(self._expected, tried[-1]), REST_GOES_ON)
        gone = own[bisect_left(own, begun.index) : end]
        missing = [index for index in gone if not self._expected[index].heard]
        return Drop(
            time=self._expected[begun.index].time,
            catch=begun.catch,
            kind="one object",
            missing=len(missing),
            resumed=self._expected[own[end]].time if end < len(own) else None,
            confidence=self._confidence(missing),
            within_beat=begun.within_beat,
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
        share = self._expected[index].share
        if share > 0:
            return max(math.log(max(1 - share, TINY) / share), MOST_FOR_GOING)
        return math.log((1 - BY_CHANCE) / (1 - self._chances[index]))

    def _joined(self, rows: Sequence[Row]) -> list[Row]:
        """Return the rows, those as one between which an extra thud or two pass for going on."""
        joined = list(rows[:1])
        for row in rows[1:]:
            start, end = joined[-1]
            if sum(due.heard for due in self._expected[end : row[0]]) < GOING_ON:
                joined[-1] = (start, row[1])
            else:
                joined.append(row)
        return joined

    def _lasts(self, start: int, end: int) -> bool:
        return end == len(self._expected) or (
            self._expected[end].time - self._expected[start].time >= SHORTEST_STOP
        )

    def _beginning(
        self, tried: Sequence[int], end: int, ways: Sequence[Way] = ALL_STOPS
    ) -> Beginning:
        """Return where a drop began, of those tried, by what is heard from them up to `end`."""
        first = tried[0]
        begun = beginning(
            self._expected[first:end],
            self._chances[first:end],
            self._background,
            [index - first for index in tried],
            ways,
        )
        return replace(begun, index=begun.index + first)

    def _confidence(self, missing: Sequence[int]) -> float:
        """Return the share of such rows that are drops, if misses come in rows too."""
        if not missing:
            return 0.0
        one_by_one = [-math.log(1 - self._chances[index]) for index in missing]
        in_rows = -math.log(AGAIN_MISSED)
        gain = one_by_one[0] + math.fsum(min(each, in_rows) for each in one_by_one[1:])
        return 1 / (1 + USUAL_BETWEEN * math.exp(-min(gain, MOST_CONFIDENT)))


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


WINDOW: Final = 96
"""Catches that are judged together, at most."""

USUAL_LEAD: Final = -0.02
"""Seconds of asynchrony before anything is known of it."""

LATE: Final = 0.12
SPREADS: Final = 3.0
"""Seconds, and spreads of this juggler, by which a catch may come later than usual: when the
sooner of them is over, it counts as due."""

FEWEST: Final = 8
MOSTLY: Final = 0.6
"""Sounds that were heard before anything can be a drop, and their share of those that were due."""

CONFIDENT: Final = 0.5
"""Confidence from which on a gap is told as a drop."""

AGAIN: Final = 6
ABOUT_HEARD: Final = 4.5
"""Of so many sounds in a row, of the object that was lost or of all, so many are heard: the
pattern goes on."""

FALLING: Final = 1.5
OFF_THE_BEAT: Final = 0.5
"""Thuds that objects make as they fall and bounce; and how many more than these there are, as a
share of the sounds due, where the juggler goes on but off the beat."""

ALL_BUT: Final = 2
"""The sounds due less so many are enough for that, too: soon after a leap few are due."""

SAME_SOUND: Final = 0.05
BEFORE: Final = 1.0
"""Seconds before a gap, and before the first of the catches, from which on thuds count."""


class DropWatch:
    """Watches the catches of one stretch of throwing.

    `catches` are what is expected, in order of time, on any clock; they need not end. `lead` is
    what the asynchrony is thought to be at first, in seconds.
    """

    def __init__(self, catches: Iterable[Catch], lead: float = USUAL_LEAD) -> None:
        self._coming: Iterator[Catch] = iter(catches)
        self._next = next(self._coming, None)
        self._catches: deque[Catch] = deque(maxlen=WINDOW)
        self._thuds: deque[HeardOnset] = deque()
        self._lead = self._first_lead = lead
        self._late = LATE
        self._dropped: Drop | None = None
        self._told = 0.0

    @property
    def lead(self) -> float:
        """The asynchrony that is usual by now, in seconds."""
        return self._lead

    def hear(self, thuds: Sequence[HeardOnset]) -> None:
        """Take in thuds, on the same clock as the catches, in order of time."""
        if self._next is not None:
            self._thuds.extend(thuds)

    def judge(self, until: float) -> Drop | None:
        """Return a drop that has come to light.

        `until` is the moment up to which every thud has been taken in, on the clock of the catches.
        """
        fresh = self._fell_due(until)
        self._forget()
        if not fresh:
            return None
        aligned = align_near(tuple(self._catches), thuds_of(tuple(self._thuds)), self._first_lead)
        if aligned is None:
            return None
        self._first_lead = float(aligned.mixture.lead[0])
        expected = expected_onsets(aligned)
        if self._dropped is not None:
            later = [due for due in expected if due.time > self._told]
            self._look_for_going_on([due for due in later if _tells(due, self._dropped)])
            return None
        self._lead = float(aligned.mixture.lead[-1])
        self._late = min(SPREADS * aligned.mixture.spread, LATE)
        # What was heard until now, such as what was in the air, tells nothing of going on.
        self._dropped, self._told = _open_gap(aligned, expected), expected[-1].time
        return self._dropped

    def _fell_due(self, until: float) -> bool:
        """Take in the catches that would have been heard by now; return whether there are any."""
        before = self._next
        while self._next is not None and self._next.time + self._lead + self._late <= until:
            self._catches.append(self._next)
            self._next = next(self._coming, None)
        return self._next is not before

    def _forget(self) -> None:
        """Let go of thuds that are of no catch any more."""
        first = self._catches[0] if self._catches else self._next
        while self._thuds and (first is None or self._thuds[0].time < first.time - BEFORE):
            self._thuds.popleft()

    def _look_for_going_on(self, later: Sequence[ExpectedOnset]) -> None:
        """Begin anew with the first of several sounds in a row that are heard after a drop."""
        for start in range(len(later) - AGAIN + 1):
            row = later[start : start + AGAIN]
            if row[0].heard and math.fsum(due.share for due in row) >= ABOUT_HEARD:
                self._begin_at(row[0])
                return

    def _begin_at(self, due: ExpectedOnset) -> None:
        first = due.catches[0].time
        while self._catches[0].time < first:
            self._catches.popleft()
        self._first_lead = due.time - first
        self._dropped = None


def _tells(due: ExpectedOnset, dropped: Drop) -> bool:
    """Return whether a sound, if heard, tells that what stopped at a drop goes on."""
    objects = {catch.object for catch in due.catches}
    return dropped.catch is None or dropped.kind == "stopped" or dropped.catch.object in objects


def _open_gap(aligned: Aligned, expected: Sequence[ExpectedOnset]) -> Drop | None:
    """Return the gap that lasts until now, if it looks like a drop.

    One that is over before it could be told was none: nobody picks up an object that fast.
    """
    for drop in find_drops(expected, statistics_of(aligned)):
        before = [due for due in expected if due.time < drop.time]
        heard = sum(due.heard for due in before)
        if (
            drop.resumed is None
            and drop.confidence >= CONFIDENT
            and heard >= max(FEWEST, MOSTLY * len(before))
            and not _goes_on(drop, aligned, expected)
        ):
            return drop
    return None


def _goes_on(drop: Drop, aligned: Aligned, expected: Sequence[ExpectedOnset]) -> bool:
    """Return whether so much is heard in a gap that everything goes on, but not on the beat.

    More, that is, than objects that fall, and extra thuds as often as there were before.
    """
    if drop.kind != "stopped":
        return False
    since = drop.time - SAME_SOUND
    there = int((aligned.thuds.times >= since).sum())
    extra = sum(time < since for time in aligned.extra_times)
    due = sum(each.time >= drop.time for each in expected)
    usual = extra * due / max(len(expected) - due, 1)
    return there > min(OFF_THE_BEAT * due + FALLING, due - ALL_BUT) + usual
