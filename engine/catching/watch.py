"""Watching for drops while a set is still thrown.

What is known by now of the last catches is judged as a whole take is (`alignment`, `drops`), again
and again: the lead is learned from the first of them. A gap that looks like a drop is told once;
from then on nothing is, until catches are heard again.
"""

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from engine.catching.alignment import Aligned, align_near
from engine.catching.drops import Drop, find_drops
from engine.catching.dues import Due, dues_of
from engine.catching.expected import Catch
from engine.catching.heard import Heard, thuds_of

WINDOW: Final = 96
"""Catches that are judged together, at most."""

USUAL_LEAD: Final = -0.02
"""Seconds of asynchrony before anything is known of it."""

LATE: Final = 0.12
SPREADS: Final = 3.0
"""Seconds after its time, the lead included, in which a catch may still be heard, at most; and
spreads of this juggler in which it may."""

FEWEST: Final = 8
"""Sounds of which most were heard before anything can be a drop."""

MOSTLY: Final = 0.6
"""The share of them."""

SURE: Final = 0.5
"""Sureness from which on a gap is told as a drop."""

ABOUT_HEARD: Final = 5
AGAIN: Final = 6
"""So many of so many sounds in a row that are heard: the pattern goes on."""

FALLING: Final = 1.5
SAME_SOUND: Final = 0.05
"""Thuds of what falls and bounces, beyond half as many as were due: everything has stopped. They
count from so many seconds before the gap."""

BEFORE: Final = 1.0
"""Seconds before the first catch from which on thuds are kept."""


class DropWatch:
    """Watches the catches of one stretch of throwing.

    Parameters
    ----------
    catches
        What is expected, in order of time, on any clock; they need not end.
    lead
        What the asynchrony is thought to be at first, in seconds.
    """

    def __init__(self, catches: Iterable[Catch], lead: float = USUAL_LEAD) -> None:
        self._coming: Iterator[Catch] = iter(catches)
        self._next = next(self._coming, None)
        self._catches: deque[Catch] = deque(maxlen=WINDOW)
        self._thuds: deque[Heard] = deque()
        self._lead = lead
        self._late = LATE
        self._dropped: float | None = None

    @property
    def lead(self) -> float:
        """The asynchrony that is usual by now, in seconds."""
        return self._lead

    def hear(self, thuds: Sequence[Heard]) -> None:
        """Take in thuds, on the same clock as the catches, in order of time."""
        self._thuds.extend(thuds)

    def judge(self, until: float) -> Drop | None:
        """Return a drop that has come to light.

        Parameters
        ----------
        until
            The moment up to which every thud has been taken in.
        """
        if not self._takes_in(until):
            return None
        aligned = align_near(tuple(self._catches), thuds_of(tuple(self._thuds)), self._lead)
        if aligned is None:
            return None
        self._lead = float(aligned.mixture.lead[-1])
        self._late = min(SPREADS * aligned.mixture.spread, LATE)
        dues = dues_of(aligned)
        if self._dropped is not None:
            self._look_for_going_on(dues)
            return None
        drop = self._gap(aligned, dues)
        if drop is not None:
            self._dropped = drop.time
        return drop

    def _takes_in(self, until: float) -> bool:
        """Take in the catches that would have been heard by now; return whether there are any."""
        before = self._next
        while self._next is not None and self._next.time + self._lead + self._late <= until:
            self._catches.append(self._next)
            self._next = next(self._coming, None)
        while (
            self._catches and self._thuds and self._thuds[0].time < self._catches[0].time - BEFORE
        ):
            self._thuds.popleft()
        return self._next is not before

    def _gap(self, aligned: Aligned, dues: Sequence[Due]) -> Drop | None:
        """Return the gap that lasts until now, if it looks like a drop.

        A gap that is over before it could be told was none: nobody picks up an object that fast.
        """
        strays = [float(aligned.times[index]) for index in aligned.extra]
        for drop in find_drops(dues, strays, aligned.mixture.strays):
            before = [due for due in dues if due.time < drop.time]
            heard = sum(due.heard for due in before)
            if (
                drop.resumed is None
                and drop.sureness >= SURE
                and heard >= max(FEWEST, MOSTLY * len(before))
                and not _off_the_beat(drop, aligned, len(dues) - len(before))
            ):
                return drop
        return None

    def _look_for_going_on(self, dues: Sequence[Due]) -> None:
        """Begin anew with the first of several catches in a row that are heard after a drop."""
        assert self._dropped is not None  # noqa: S101 - only called then
        later = [due for due in dues if due.time > self._dropped]
        for start in range(len(later) - AGAIN + 1):
            row = later[start : start + AGAIN]
            if row[0].heard and sum(due.heard for due in row) >= ABOUT_HEARD:
                self._begin_at(row[0])
                return

    def _begin_at(self, due: Due) -> None:
        first = due.catches[0].time
        while self._catches and self._catches[0].time < first:
            self._catches.popleft()
        self._dropped = None


def _off_the_beat(drop: Drop, aligned: Aligned, due: int) -> bool:
    """Return whether so much is heard in a gap that everything goes on, but not on the beat."""
    if drop.kind != "stopped":
        return False
    there = int((aligned.times >= drop.time - SAME_SOUND).sum())
    return there > due / 2 + FALLING
