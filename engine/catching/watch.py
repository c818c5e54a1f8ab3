"""Watching for drops while a set is still thrown.

What is known by now of the last catches is judged as a whole take is (`alignment`, `drops`), each
time that another catch has fallen due; the lead is learned from them. A gap that looks like a drop
is told once, and from then on nothing, until several catches in a row are heard again.
"""

import math
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from engine.catching.alignment import Aligned, align_near
from engine.catching.drops import Drop, find_drops
from engine.catching.dues import ExpectedOnset, expected_onsets, statistics_of
from engine.catching.expected import Catch
from engine.catching.heard import HeardOnset, thuds_of

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
