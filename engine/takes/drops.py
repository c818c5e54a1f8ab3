"""Drops: gaps that look like one, in a whole take or while a set is still thrown.

A detector misses a catch now and then, but a dropped object is missing for good. Either everything
stops, mostly within a beat or two, or the rest goes on without one object. So a drop is a series
of catches, of all objects or of one, that is far likelier to have stopped than to have been missed
so often in a row. Stops are found by Viterbi's algorithm for two states (Forney, The Viterbi
algorithm, Proc. IEEE 61 (1973) 268-278): while the pattern goes on thuds come on its beats, and in
a stop at any time and rate. Which catch failed first is for `drop_start` to say.

`DropWatch` aligns and judges the last catches, as a take is, whenever another catch has fallen due,
and learns the lead from them. A gap that looks like a drop is reported once, and nothing more until
several catches in a row are heard again.
"""

import math
from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, compress
from typing import Final, Literal, TypeAlias

import numpy as np

from throwcount.engine.takes.alignment import Aligned, align_near
from throwcount.engine.takes.catches import Catch, HeardOnset, summed, thuds_of
from throwcount.engine.takes.drop_start import (
    ALL_STOPS,
    AROUND,
    REST_GOES_ON,
    drop_start,
    earliest,
    end_of_fall,
)
from throwcount.engine.takes.expected_onsets import (
    ExpectedOnset,
    SoundRange,
    TakeStatistics,
    chances,
    expected_onsets,
    indices_of,
    quiet,
    statistics_of,
)
from throwcount.engine.takes.mixture import bumps, near_pairs

FALSE_ALARMS: Final = 0.02
"""Expected number of series of mere misses in a take that are taken for a drop."""

ENDS_SO: Final = 0.5
"""The prior probability that a take ends in a drop, as most do whose run does not."""

BACK: Final = 0.15
"""The prior probability that what is gone is thrown again on the same take."""

SHORTEST_STOP: Final = 1.2
"""Seconds; nobody picks up an object and goes on sooner."""

GOING_ON: Final = 3
"""Sounds heard before a stop, at least, and between two for them to be two and not one."""

AGAIN_MISSED: Final = 0.3
"""The probability that a miss follows a miss, as when noise drowns the catches for a while."""

USUAL_BETWEEN: Final = 300
"""Catches from drop to drop, roughly, before anything is known (the prior)."""

LAST_BETWEEN: Final = 30
"""The same for a gap that lasts to the end of a take: about half of them end in a drop, some 15
catches before."""

ROUNDS_AROUND: Final = 5
"""How many catches before or after its first missing one an object may have been dropped."""

LONGEST_ROUND: Final = 4.0
"""Seconds from one catch of an object to its next, at most."""

ROUNDS: Final = 5
"""Iterations, at most, in which the shares heard and the stops follow from each other."""

BY_CHANCE: Final = 0.05
"""The probability that an extra thud is taken for a catch that was not made."""

MOST_FOR_GOING: Final = -6.0
"""Nats in favour of a stop from one thud, at least, however well it is in place."""

IN_A_STOP: Final = (0.1, 1.0, 3.0)
"""Thuds a second in a stop, beside extra ones, each rate as likely: beanbags that lie still, steps
of who picks them up, balls that bounce."""

REPEATED: Final = 0.02
ALSO_HEARD: Final = 0.5
"""The probabilities that a sound makes another thud than its first, and that one of several catches
does."""

USUAL_GAP: Final = 0.3
"""Seconds before the first sound, roughly."""

TINY: Final = 1e-6
"""The probability that a thud in place is extra, at least."""

MOST_CONFIDENT: Final = 30.0
"""Nats beyond which more misses do not raise the confidence."""

CONFIDENT: Final = 0.5
"""Confidence from which on a gap is reported as a drop."""

DropKind: TypeAlias = Literal["stopped", "one object"]


@dataclass(frozen=True, slots=True)
class Drop:
    """A gap that looks like a drop."""

    time: float
    """When the catch that failed first was due, in seconds of the take."""
    catch: Catch | None
    """That catch, and so the throw before the gap; None if no pattern is known."""
    kind: DropKind
    """Whether everything stopped, or all but one object went on."""
    missing: int
    """Catches missing from there until catches are heard again; of the one object, if the rest
    went on."""
    resumed: float | None
    """When catches are heard again, in seconds of the take; None if they are not."""
    confidence: float
    """The probability that it is a drop and not a series of misses."""
    within_beat: float
    """The probability, given a drop, that it was within a beat of that catch."""


def find_drops(
    expected: Sequence[ExpectedOnset], background: TakeStatistics, *, ended: bool = True
) -> tuple[Drop, ...]:
    """Return the gaps that look like a drop, in order.

    `expected` is every sound due on the take so far, in order, and `ended` whether it is over.
    """
    heard = [index for index, due in enumerate(expected) if due.heard]
    if not heard:
        return ()
    finder = _DropFinder(expected[heard[0] :], background, ended=ended)
    # What went before a stop must be more than an extra thud or two.
    stops = [stop for stop in finder.stops() if bisect_left(heard, heard[0] + stop[0]) >= GOING_ON]
    again = (0, *(end for _, end in stops))
    drops = [finder.stopped(*stop, least) for stop, least in zip(stops, again, strict=False)]
    sure = [drop.confidence >= CONFIDENT for drop in drops]
    drops += finder.lost_objects(list(compress(stops, sure)))
    drops = [drop for drop in drops if drop.confidence >= CONFIDENT]
    return tuple(sorted(drops, key=lambda drop: drop.time))


class _DropFinder:
    """Finds drops, given how often each kind of throw is heard while all goes well."""

    def __init__(
        self, expected: Sequence[ExpectedOnset], background: TakeStatistics, *, ended: bool
    ) -> None:
        self._ended = ended
        self._expected = expected
        self._background = background
        self._cost = math.log(len(expected) / FALSE_ALARMS)
        self._times = np.array([due.time for due in expected])
        self._chances = chances(expected, indices_of(quiet(expected)))

    def stops(self) -> list[SoundRange]:
        """Return where everything stopped."""
        found: list[SoundRange] = []
        for _ in range(ROUNDS):
            before, rows = found, self._rows(self._stop_gains())
            found = self._joined(
                [
                    (start, end)
                    for start, end in rows
                    if end == len(self._expected)
                    or self._expected[end].time - self._expected[start].time >= SHORTEST_STOP
                ]
            )
            self._chances = chances(self._expected, indices_of(found))
            if found == before:
                break
        return found

    def stopped(self, start: int, end: int, least: int) -> Drop:
        """Return the drop, at `least` or later, that led to the stop from `start` up to `end`."""
        # The stop seems to begin before it if the last catches went unheard.
        fallen = end_of_fall(self._expected, start, end)
        tried = range(earliest(self._expected, start, least), fallen)
        last = self._ended and end == len(self._expected)
        return self._drop(range(len(self._expected)), end, tried, fallen, last=last)

    def lost_objects(self, stops: Sequence[SoundRange]) -> Iterator[Drop]:
        """Yield the drops after which the other objects went on."""
        gone = set(indices_of(stops))
        ended = self._ended and len(self._expected) - 1 not in gone
        found = [
            (own, *row)
            for own in self._of_objects(gone).values()
            for row in self._rows([self._gain(index) for index in own], ended=ended)
        ]
        gone.update(index for own, start, end in found for index in own[start:end])
        self._chances = chances(self._expected, gone)
        limits = [0, *chain.from_iterable(stops), len(self._expected)]
        for own, start, end in found:
            after = bisect_right(limits, own[start])
            between = range(limits[after - 1], limits[after])
            yield self._lost(own, start, end, between, last=ended and end == len(own))

    def _of_objects(self, gone: Collection[int]) -> dict[str, list[int]]:
        """Return the sounds of each object, except those that it shares with others."""
        own: dict[str, list[int]] = {}
        for index, due in enumerate(self._expected):
            if index not in gone and len(due.catches) == 1 and due.catches[0].object:
                own.setdefault(due.catches[0].object, []).append(index)
        return own

    def _lost(
        self, own: Sequence[int], start: int, end: int, between: range, *, last: bool
    ) -> Drop:
        """Return the drop of an object whose `own` sounds are missing from `start` up to `end`.

        It may have begun some catches sooner or later, but `between` the same two stops.
        """
        first = max(start - ROUNDS_AROUND, 0)
        time, reach = self._expected[own[start]].time, ROUNDS_AROUND * LONGEST_ROUND
        tried = [
            index
            for index in own[first : start + ROUNDS_AROUND]
            if index in between and abs(self._expected[index].time - time) <= reach
        ]
        fallen = end_of_fall(self._expected, tried[-1])
        return self._drop(own, end, tried, fallen, stopped=False, last=last)

    def _rows(self, gains: Sequence[float], *, ended: bool = True) -> list[SoundRange]:
        """Return the rows of sounds that are likelier gone, as positions among them.

        Viterbi's algorithm divides the sounds into those that go on and those that are gone, by
        what each gains if it is gone, in nats. The cost of starting a row makes false alarms rare;
        it is less if the row lasts until the take has ended, as most do, and more if it does not.
        """
        going, gone = 0.0, -math.inf
        # The rows so far, each with those before it, so that alternatives share what they can.
        rows: _Chain = None
        before: _Chain = None
        begun = 0
        for place, gain in enumerate(gains):
            if going - self._cost > gone:
                gone, begun, before = going - self._cost, place, rows
            gone += gain
            if gone + math.log(BACK) > going:
                going, rows = gone + math.log(BACK), ((begun, place + 1), before)
        if gone + (math.log(ENDS_SO / FALSE_ALARMS) if ended else 0.0) > going:
            rows = ((begun, len(gains)), before)
        found: list[SoundRange] = []
        while rows is not None:
            row, rows = rows
            found.append(row)
        return found[::-1]

    def _stop_gains(self) -> list[float]:
        """Return the log likelihood ratio, in nats, for all to have stopped at each sound.

        It is that of the thuds from half-way to the sound before until half-way to the next one.
        """
        thuds, extra = self._background.thuds, self._background.extra_rate
        reach = AROUND * self._background.spread
        near = near_pairs(self._times, thuds.times, np.zeros(len(self._times)), reach)
        odds = bumps(near.late, self._background.spread) * thuds.weights[near.thud] / extra
        several = np.array([len(due.catches) > 1 for due in self._expected])
        again = 1 + odds * np.where(several, ALSO_HEARD, REPEATED)[near.sound]
        # One thud is the first of the sound, and each of the others another of it or extra.
        first, others = (
            summed(each, near.sound, len(several)) for each in (odds / again, np.log(again))
        )
        heard = np.array(self._chances)
        going = np.log(1 - heard + heard * first * np.exp(others))
        half = np.diff(self._times, prepend=self._times[0] - USUAL_GAP) / 2
        edges = np.append(self._times - half, self._times[-1] + half[-1])
        begun = np.searchsorted(thuds.times, edges)
        other = thuds.confidence / self._background.extra_confidence
        gone = np.logaddexp.reduce(
            [
                np.diff(np.append(0.0, np.log1p(rate * other).cumsum())[begun])
                - rate * np.diff(edges)
                for rate in IN_A_STOP
            ]
        ) - math.log(len(IN_A_STOP))
        gains: list[float] = np.maximum(gone - going, MOST_FOR_GOING).tolist()
        return gains

    def _gain(self, index: int) -> float:
        """Return the log likelihood ratio, in nats, for an object to be gone at a sound of its."""
        share = self._expected[index].share
        if share > 0:
            return max(math.log(max(1 - share, TINY) / share), MOST_FOR_GOING)
        return math.log((1 - BY_CHANCE) / (1 - self._chances[index]))

    def _joined(self, rows: Sequence[SoundRange]) -> list[SoundRange]:
        """Return the rows, with those joined between which only an extra thud or two was heard."""
        joined = list(rows[:1])
        for row in rows[1:]:
            start, end = joined[-1]
            if sum(due.heard for due in self._expected[end : row[0]]) < GOING_ON:
                joined[-1] = (start, row[1])
            else:
                joined.append(row)
        return joined

    def _drop(  # noqa: PLR0913 - a series, where it may begin, and what kind of drop it is
        self,
        own: Sequence[int],
        end: int,
        tried: Sequence[int],
        fallen: int,
        *,
        last: bool,
        stopped: bool = True,
    ) -> Drop:
        """Return the drop after which the `own` sounds up to `end`, a position, are missing.

        It began at one of the sounds `tried`, by what is heard from the first of them to `fallen`.
        """
        first = tried[0]
        begun = drop_start(
            self._expected[first:fallen],
            self._chances[first:fallen],
            self._background,
            [index - first for index in tried],
            ALL_STOPS if stopped else REST_GOES_ON,
        )
        start = begun.index + first
        gone = own[bisect_left(own, start) : end]
        missing = [index for index in gone if not self._expected[index].heard]
        return Drop(
            time=self._expected[start].time,
            catch=begun.catch,
            kind="stopped" if stopped else "one object",
            missing=len(missing),
            resumed=self._expected[own[end]].time if end < len(own) else None,
            confidence=_confidence(
                [self._chances[index] for index in missing], LAST_BETWEEN if last else USUAL_BETWEEN
            ),
            within_beat=begun.within_beat,
        )


def _confidence(missing: Sequence[float], between: float) -> float:
    """Return the probability of a drop, if misses tend to follow each other (Bayes' rule).

    `missing` are the probabilities with which sounds that went unheard are heard while all goes
    well, and `between` is the number of catches from drop to drop, by the prior.
    """
    if not missing:
        return 0.0
    one_by_one = [-math.log(1 - chance) for chance in missing]
    in_rows = -math.log(AGAIN_MISSED)
    gain = one_by_one[0] + math.fsum(min(each, in_rows) for each in one_by_one[1:])
    return 1 / (1 + between * math.exp(-min(gain, MOST_CONFIDENT)))


_Chain: TypeAlias = "tuple[SoundRange, _Chain] | None"
"""A row and those before it."""


WINDOW: Final = 96
"""Catches that are judged together, at most."""

USUAL_LEAD: Final = -0.02
"""Seconds of asynchrony before anything is known of it."""

LATE: Final = 0.12
SPREADS: Final = 3.0
"""Seconds, and standard deviations of this juggler's asynchronies, by which a catch may be later
than usual; after the shorter of them it counts as due."""

FEWEST: Final = 8
MOSTLY: Final = 0.6
"""Sounds, and the share of those due, that must be heard before a gap can be a drop."""

AGAIN: Final = 6
ABOUT_HEARD: Final = 4.5
"""The pattern goes on if, of `AGAIN` sounds in a row, of the lost object or of all, this many are
heard."""

FALLING: Final = 1.5
OFF_THE_BEAT: Final = 0.5
"""Thuds that objects make as they fall and bounce; and how many more there must be, as a share of
the sounds due, if the juggler goes on off the beat."""

ALL_BUT: Final = 2
"""All sounds due but this many are also enough for that, as few are due soon after a gap begins."""

SAME_SOUND: Final = 0.05
BEFORE: Final = 1.0
"""Seconds before a gap, and before the first of the catches, from which on thuds count."""


class DropWatch:
    """Watches the catches of one set, or of one part of it, for drops.

    `catches` are those expected, in order of time, on any clock; they may be endless. `lead` is the
    lead assumed at first, in seconds.
    """

    def __init__(self, catches: Iterable[Catch], lead: float = USUAL_LEAD) -> None:
        self._coming: Iterator[Catch] = iter(catches)
        self._next = next(self._coming, None)
        self._catches: deque[Catch] = deque(maxlen=WINDOW)
        self._thuds: deque[HeardOnset] = deque()
        self._lead = self._first_lead = lead
        self._late = LATE
        self._dropped: Drop | None = None
        self._reported_until = 0.0

    @property
    def lead(self) -> float:
        """The lead at present, in seconds."""
        return self._lead

    def hear(self, thuds: Sequence[HeardOnset]) -> None:
        """Take in thuds, on the same clock as the catches, in order of time."""
        if self._next is not None:
            self._thuds.extend(thuds)

    def judge(self, until: float) -> Drop | None:
        """Return a drop if a new one is found, else None.

        `until` is the time up to which all thuds have been taken in, on the clock of the catches.
        """
        last = self._next
        while self._next is not None and self._next.time + self._lead + self._late <= until:
            self._catches.append(self._next)
            self._next = next(self._coming, None)
        # Thuds before these catches are not needed any more.
        first = self._catches[0] if self._catches else self._next
        while self._thuds and (first is None or self._thuds[0].time < first.time - BEFORE):
            self._thuds.popleft()
        if self._next is last:
            return None
        aligned = align_near(tuple(self._catches), thuds_of(tuple(self._thuds)), self._first_lead)
        if aligned is None:
            return None
        self._first_lead = float(aligned.mixture.lead[0])
        expected = expected_onsets(aligned)
        if self._dropped is not None:
            later = [due for due in expected if due.time > self._reported_until]
            if self._dropped.catch is not None and self._dropped.kind == "one object":
                lost = self._dropped.catch.object
                later = [due for due in later if lost in {catch.object for catch in due.catches}]
            self._look_for_going_on(later)
            return None
        self._lead = float(aligned.mixture.lead[-1])
        self._late = min(SPREADS * aligned.mixture.spread, LATE)
        # Whatever was in the air until now does not show that the pattern goes on.
        self._dropped, self._reported_until = _open_gap(aligned, expected), expected[-1].time
        return self._dropped

    def _look_for_going_on(self, later: Sequence[ExpectedOnset]) -> None:
        """Begin again with the first of several sounds in a row that are heard after a drop."""
        for start in range(len(later) - AGAIN + 1):
            row = later[start : start + AGAIN]
            if row[0].heard and math.fsum(due.share for due in row) >= ABOUT_HEARD:
                first = row[0].catches[0].time
                while self._catches[0].time < first:
                    self._catches.popleft()
                self._first_lead = row[0].time - first
                self._dropped = None
                return


def _open_gap(aligned: Aligned, expected: Sequence[ExpectedOnset]) -> Drop | None:
    """Return the gap that lasts until now, if it looks like a drop.

    A gap that ended before it was found is not one: nobody picks up an object that fast.
    """
    for drop in find_drops(expected, statistics_of(aligned), ended=False):
        before = [due for due in expected if due.time < drop.time]
        heard = sum(due.heard for due in before)
        if (
            drop.resumed is None
            and heard >= max(FEWEST, MOSTLY * len(before))
            and not _goes_on(drop, aligned, expected)
        ):
            return drop
    return None


def _goes_on(drop: Drop, aligned: Aligned, expected: Sequence[ExpectedOnset]) -> bool:
    """Return whether enough is heard in a gap to show that the pattern goes on off the beat.

    That is more than from falling objects and from extra thuds at their rate before the gap.
    """
    if drop.kind != "stopped":
        return False
    since = drop.time - SAME_SOUND
    there = int((aligned.thuds.clear & (aligned.thuds.times >= since)).sum())
    extra = sum(time < since for time in aligned.extra_times)
    due = sum(each.time >= drop.time for each in expected)
    usual = extra * due / max(len(expected) - due, 1)
    return there > min(OFF_THE_BEAT * due + FALLING, due - ALL_BUT) + usual
