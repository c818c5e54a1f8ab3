"""The controller of attempts at one pattern: each goes on until the drop, and then the next begins.

An attempt ends with a drop or a clean mark, which a juggler gives who has collected all objects. It
may also have a length of its own; one that is to reach a flash or a qualifying run has theirs.
"""

from dataclasses import replace
from itertools import count
from typing import Final

import click

from throwcount.caller.log.records import Thrown
from throwcount.caller.options.request import Request
from throwcount.caller.pieces.piece import Piece
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.pattern_controller import (
    BlockPlace,
    PatternController,
    catches_said,
)
from throwcount.caller.practice.situation import Closing, is_resting
from throwcount.engine.numbers import spoken
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.practice.goals import goal_catches
from throwcount.engine.practice.tempo_rules import Given
from throwcount.sounds.output.commands import Reply, Silence

BEST: Final = "best"
CATCHES_UNKNOWN: Final = (
    " It was told after the end, so the catches before it are not known, and none count."
)


class AttemptController(PatternController):
    """Leads through attempts; parameters are those of `PatternController`.

    Attributes
    ----------
    runs
        The catches of each attempt that has ended, in order; one that is thrown again counts once.
    met
        How many of them met the goal.
    """

    def __init__(
        self,
        request: Request,
        piece: Piece,
        session: LiveSession,
        *,
        block: BlockPlace | None = None,
    ) -> None:
        super().__init__(request, piece, session, block=block)
        done = enumerate(self._block.done)
        self._caught = {number: each.catches for number, each in done if each.catches is not None}
        self._whole = False
        self._marked = self.number  # the attempt that was thrown last
        self._undropped: int | None = None  # its catches, if it has ended without a drop
        self._best_before_it = self._best
        if request.goal is not None:
            self._goal = goal_catches(request.goal, piece.run.opening.pattern.objects)

    @property
    def runs(self) -> list[int]:
        """The catches of each attempt that has ended."""
        return [*self._caught.values()]

    @property
    def met(self) -> int:
        """How many attempts met the goal; 0 without one."""
        return 0 if self._goal is None else sum(run >= self._goal for run in self.runs)

    @property
    def _set_place(self) -> str:
        """Which attempt this is, in words; empty for the first where none were asked for."""
        attempts = self._request.attempts
        if attempts is not None:
            return f"attempt {self.number + 1} of {attempts}"
        return f"attempt {self.number + 1}" if self.number else ""

    @property
    def _is_last(self) -> bool:
        request = self._request
        if request.goal_times is not None and self.met >= request.goal_times:
            return True
        if request.attempts is None:
            return self._whole and request.goal_times is None
        return self.number + 1 >= request.attempts

    def _announcement(self) -> str:
        """Return what is said before an attempt: all before the first, then only its number."""
        if self.number > len(self._block.done):
            return self._number_said()
        return super()._announcement()

    def _number_said(self) -> str:
        number, attempts = f"attempt {spoken(self.number + 1)}", self._request.attempts
        return number if attempts is None else f"{number} of {spoken(attempts)}"

    def _is_ended_by(self, given: Given) -> bool:
        collected = given.mark == "clean" and not given.heard
        throwing = collected and self._is_throwing
        return throwing or super()._is_ended_by(given)

    def _finish_set(self) -> None:
        """Close an attempt that has come to its planned length, and tell its catches.

        Where no attempts were asked for, and it is the first one, it ends as a file would.
        """
        self._whole, self._best_before_it = True, self._best
        self._close_set("finished")
        if self._dropped is None:
            self._undropped = self._catches
        told = self._told()
        self._after_set(told if self._set_place else "")

    def _mark(self, given: Given, until: float) -> None:
        super()._mark(given, until)
        if self._undropped is not None:
            self._count_late(self._undropped, given)

    def _count_late(self, catches: int, given: Given) -> None:
        """Let an attempt that was thrown to its end count as it is marked after that.

        Where a drop was is not known then, so its catches do not count, unless it is taken back.
        """
        dropped, before = self.tally.outcome(None) == "drop", self.runs
        self._best = self._best_before_it
        if dropped:
            self._caught.pop(self._marked, None)
            self.answer += CATCHES_UNKNOWN
        else:
            self._caught[self._marked] = catches
            self._best = max(catches, self._best or 0)
        closing = isinstance(self.situation, Closing)
        ends = self._is_last and (closing or is_resting(self.situation))
        if self.runs == before or not (closing or ends):
            return
        self._deck.send(Silence())
        self._deck.send(Reply(given.mark, self._balance.click_level))
        if not ends:
            self._outcomes.pop()
            self._counted = None
            self._rest(self._rest_seconds())
        elif closing:  # The last words told what no longer counts.
            self._close(answered=True)
        else:
            self._after_set("", answered=True)

    def _first_throw(self) -> None:
        super()._first_throw()
        self._marked, self._undropped = self.number, None
        before = self._caught.items()
        self._caught = {number: run for number, run in before if number < self.number}

    def _note_run(self, thrown: Thrown) -> None:
        super()._note_run(thrown)
        if thrown.beats:
            self._caught[self._marked] = thrown.catches

    def _rest_seconds(self) -> float:
        return self._request.rest_seconds

    def _summary(self) -> str:
        """Return what is said of the whole practice: the most catches in several attempts."""
        if len(self.runs) < 2:  # noqa: PLR2004 - the only one has just been told
            return ""
        return f"{BEST}, {catches_said(max(self.runs), best=False)}"


def attempt_request(pattern: Pattern, request: Request) -> Request:
    """Return the request for an attempt at a pattern, with the length that a named goal has."""
    if request.attempts is not None and request.milestones is None:
        request = replace(request, milestones=True)
    if request.goal is not None:
        _check_catches(pattern)
    lengths = (request.cycles, request.beats, request.seconds)
    if not isinstance(request.goal, str) or any(length is not None for length in lengths):
        return request
    return replace(request, beats=beats_of(pattern, goal_catches(request.goal, pattern.objects)))


def _check_catches(pattern: Pattern) -> None:
    if not pattern.caught_in(pattern.period):
        raise click.UsageError(
            f"A goal is a number of catches, and in {pattern.text} nothing is caught."
        )


def beats_of(pattern: Pattern, catches: int) -> int:
    """Return the fewest beats, in whole turns, whose throws make so many catches."""
    step = pattern.beats_per_turn
    return next(beats for beats in count(step, step) if pattern.caught_in(beats) >= catches)
