"""The controller of one pattern: set after set, with rests, at a tempo that may move."""

import math
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import Final

from throwcount.caller.log.records import Ending, Plan, SetOfBlock, Thrown
from throwcount.caller.options.request import Request
from throwcount.caller.pieces.pattern import tempo_map
from throwcount.caller.pieces.piece import AGAIN_READY, Piece
from throwcount.caller.practice.controller import Controller
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.situation import Closing, Paused, Playing, Resting, slowest_allowed
from throwcount.caller.terminal.printing import shortened
from throwcount.engine.numbers import counted, spoken
from throwcount.engine.patterns.pattern import other_hand
from throwcount.engine.patterns.states import start
from throwcount.engine.practice.tempo_rules import (
    Climb,
    Given,
    Mark,
    Rule,
    Staircase,
    TempoRule,
)
from throwcount.engine.scheduling.calls import announcement
from throwcount.engine.scheduling.scheduler import TAIL
from throwcount.engine.timing.run import Run
from throwcount.engine.timing.tempo import SLOWEST_TEMPO, TempoMap, held_tempo
from throwcount.sounds.files.whole_files import undisturbed
from throwcount.sounds.output.commands import AHEAD, ScheduledRun

LAST_CYCLE: Final = "last one"
SETTLED: Final = "The staircase has settled at about {:.0f} beats a minute."
PERSONAL_BEST: Final = "personal best"

AFTER_REST: Final = 0.3
"""Seconds between a rest and the announcement."""


@dataclass(frozen=True, slots=True)
class BlockPlace:
    """The place of a practice among the blocks of a session file."""

    number: int = 1
    """The number of the block, from 1."""
    blocks: int = 1
    """How many blocks there are."""
    name: str = ""
    """Its name; empty if it has none."""
    rest: float = 0.0
    """Seconds of rest before it."""
    opening: str = ""
    """What is said before it; empty for nothing."""
    ending: str = ""
    """What is said after it; empty for nothing."""
    begun_sets: tuple[SetOfBlock, ...] = ()
    """The sets of it that were begun before the session was resumed, and not thrown again."""

    @property
    def done(self) -> tuple[SetOfBlock, ...]:
        """Those of them that were thrown."""
        return tuple(each for each in self.begun_sets if each.whole)

    @property
    def numbers(self) -> list[int]:
        """The number of each of them in the block, from zero."""
        done = accumulate((each.whole for each in self.begun_sets), initial=0)
        return [*done][: len(self.begun_sets)]

    @property
    def last(self) -> bool:
        """Whether it is the last one."""
        return self.number == self.blocks


class PatternController(Controller):
    """Leads through a practice of one pattern.

    `piece` is the first set; the others are like it. `rule` says how the tempo moves from set to
    set; if None, the request does. `block` is its place in a session file; None without one.

    Attributes
    ----------
    number
        The number of the current set, or of the one before the rest, from zero.
    title
        The pattern as it is written.
    in_session
        Whether it is a block of a session file.
    best_before
        The most catches in a row before this practice; None if none are known.
    """

    def __init__(
        self,
        request: Request,
        piece: Piece,
        session: LiveSession,
        rule: TempoRule | None = None,
        *,
        block: BlockPlace | None = None,
    ) -> None:
        super().__init__(request, session, piece.balance, rests=True)
        self._goal: int | None = None
        self.in_session = block is not None
        self.title = piece.title
        self._block = block or BlockPlace()
        self.last = self._block.last
        self.number = len(self._block.done)
        self._run = piece.run
        tempo = piece.run.tempo.start
        self._slowest = math.ceil(slowest_allowed(piece.run, 0, tempo, request.room))
        self._first_rule = rule or tempo_rule(request, tempo, self._slowest)
        self._outcomes = [each.outcome if each.thrown else None for each in self._block.done]
        self._rule = self._decided()
        self._offset = self._resumed_offset()
        self._begun = False
        self._told_settled = self.settled is not None
        self.best_before = session.recorder.best_run(self._run.opening.pattern, request.props)
        self._best = self.best_before
        self._catches, self._is_best = 0, False
        self._counted: int | None = None
        self._set_open = self._set_thrown = False
        self._numbers = self._block.numbers  # of the sets that count, in the order begun
        self._before = Thrown(0, 0.0, tempo)

    @property
    def tempo(self) -> float:
        """The tempo at which the current set began, or one would begin now, in beats a minute."""
        planned = self._rule.tempo
        return max(held_tempo(planned + self._offset), min(planned, self._slowest))

    @property
    def settled(self) -> float | None:
        """The tempo at which a staircase has settled, in beats a minute; None if none has."""
        rule = self._rule
        settled = rule.settled if isinstance(rule, Staircase) else None
        return None if settled is None else held_tempo(settled + self._offset)

    @property
    def likely_sets(self) -> int:
        """How many more sets a staircase is likely to need until it has settled; else 0."""
        return self._rule.likely_sets if isinstance(self._rule, Staircase) else 0

    @property
    def place(self) -> str:
        """Which block and set this is, in words; empty where there is only one."""
        block = self._block
        name = f" ({shortened(block.name)})" if block.name else ""
        place = f"block {block.number} of {block.blocks}{name}" if self.in_session else ""
        return ", ".join(filter(None, [place, self._set_place]))

    @property
    def _set_place(self) -> str:
        request = self._request
        if request.single:
            return ""
        if request.sets is None:
            return f"set {self.number + 1}"
        round_number, in_round = divmod(self.number, request.sets)
        text = f"set {in_round + 1} of {request.sets}"
        several = request.rounds > 1
        return f"{text}, round {round_number + 1} of {request.rounds}" if several else text

    def begin(self) -> None:
        """Begin with the first set, perhaps after a rest or a press."""
        block = self._block
        if block.rest or block.opening or self._request.wait:
            self._rest(block.rest, coming=block.opening)
        else:
            self._play_set(self._run.ready)

    def step(self) -> None:
        """Go on to what is next if something has come to its end. This is called often."""
        self._note_throws()
        match self.situation:
            case Playing(scheduled) if (
                scheduled.end is not None and self._deck.heard() >= scheduled.end
            ):
                self._finish_set()
            case Playing():
                self._note_progress()
            case Resting(until) if not self._waits(until):
                if self._begun:
                    self._settle(self._request.unmarked)
                    self._next_set(AFTER_REST)
                else:
                    self._play_set(self._run.ready)
            case Paused(None) if self._deck.heard() >= self._go_at:
                self._go()
            case Closing(until) if self._deck.heard() >= until:
                self._end()

    def again(self) -> None:
        """Begin the set again."""
        self._interrupt()
        self._play_set(AGAIN_READY if self._begun else self._run.ready)

    def skip(self) -> None:
        """Go on to the next set, or end after the last one."""
        if not self._begun:
            self._begin_at_once()
            return
        # A set that is skipped counts only by its marks.
        unmarked = None if self._set_open else self._request.unmarked
        self._interrupt()
        self._settle(unmarked)
        if self._is_last:
            self._close()
        else:
            self._next_set(AGAIN_READY)

    def _begin_at_once(self) -> None:
        """Begin with the first set, before which what opens the block is said."""
        self._interrupt()
        opening = self._block.opening
        start = self._deck.soon()
        self._play_set(self._run.ready + self._said(opening, start) - start)

    def back(self) -> None:
        """Go back to the set before, at its tempo; from a rest, to the set before the rest."""
        if self._set_open and self.number > 0:
            self.number -= 1
            self._outcomes.pop()
            if self._counted == self.number:
                self._counted = None
            self._rule = self._decided()
        self.again()

    def nudge(self, change: float) -> None:
        """Change the tempo by `change` beats a minute, from the first beat that can be changed."""
        scheduled = self._scheduled()
        before = self.tempo if scheduled is None else self._next_tempo(scheduled)
        tempo = self._nudged(self._run, 0, before, change)
        match self.situation:
            case Playing(scheduled):
                self._change_tempo(scheduled, tempo)
            case Paused(scheduled, beat) if scheduled is not None:
                changed = scheduled.at_tempo(tempo, scheduled.time_at(beat) - AHEAD)
                self.situation = Paused(changed.scheduled if changed else scheduled, beat)
        self._offset += tempo - before

    @property
    def _is_last(self) -> bool:
        sets = self._request.total_sets
        return sets is not None and self.number + 1 >= sets

    def _play_set(self, ready: float) -> None:
        run = self._set_run(ready)
        part = run.opening
        counting = [number for number in self._numbers if number < self.number]
        instead_of = len(self._numbers) - len(counting)
        self._numbers = [*counting, self.number]
        plan = Plan(
            part.pattern,
            run.tempo.start,
            part.beats,
            run.first,
            goal=self._goal,
            block=self._block.number if self.in_session else None,
            instead_of=instead_of,
            props=self._request.props,
        )
        with undisturbed():  # A set that the log has is known here too, so that it is ended.
            self._recorder.begin_set(plan)
            self._begun, self._set_open, self._set_thrown = True, True, False
            self._before = Thrown(0, 0.0, run.tempo.start)
            self._play(run)

    def _set_run(self, ready: float) -> Run:
        """Return the run of a set; that of an only set is what `render` writes."""
        run, request, tempo = self._run, self._request, self.tempo
        several = not request.single
        ends = run.closing.beats is not None and run.stop_word
        last_cycle = LAST_CYCLE if several and ends else ""
        said = self._announcement() if request.announce else ""
        return replace(
            run,
            parts=(replace(run.closing, last_cycle=last_cycle),),
            tempo=self._tempo_map(tempo),
            ready=ready,
            announcement=said,
            announcement_seconds=self._seconds(said) if said else 0.0,
        )

    def _announcement(self) -> str:
        """Return what is said before the set: which one it is, and what is thrown."""
        run, pattern = self._run, self._run.opening.pattern
        if self._request.single:
            return announcement(pattern, self.tempo, run.first, run.wording)
        held = start(pattern, run.first)
        said = announcement(pattern, self.tempo, run.first, run.wording, held)
        return f"{self._number_said()}, {said}"

    def _number_said(self) -> str:
        """Return the number of the set in words, as in "set two of five"."""
        sets = self._request.sets
        if sets is None:
            return f"set {spoken(self.number + 1)}"
        return f"set {spoken(self.number % sets + 1)} of {spoken(sets)}"

    def _tempo_map(self, tempo: float) -> TempoMap:
        """Return how the tempo of a set goes on from where it begins, like that of the first."""
        request, run = self._request, self._run
        if request.to is not None:
            request = replace(request, to=held_tempo(request.to + tempo - run.tempo.start))
        return tempo_map(run.opening.pattern, tempo, run.opening.beats, request)

    def _next_set(self, ready: float) -> None:
        self.number += 1
        self.answer = self._warned(self._run.opening, self.tempo)
        settled = self.settled
        if settled is not None and not self._told_settled:
            self._told_settled = True
            self.answer = f"{SETTLED.format(settled)} {self.answer}".rstrip()
        self._play_set(ready)

    def _finish_set(self) -> None:
        """Close a set that has come to its end; then rest, or end the practice."""
        self._close_set("finished")
        self._after_set("")

    def _after_set(self, told: str, *, answered: bool = False) -> None:
        """Rest, or end the practice; `told` is said of the set first.

        `answered` tells whether a press has just been answered.
        """
        told = told if self._request.speak_rests else ""
        if self._is_last:
            self._settle(self._request.unmarked)
            self._close(told, answered=answered)
        else:
            self._rest(self._rest_seconds(), told)

    def _is_ended_by(self, given: Given) -> bool:
        stops = given.mark == "drop" and self._request.on_drop != "go-on"
        return stops and self._is_throwing

    @property
    def _is_throwing(self) -> bool:
        return isinstance(self.situation, Playing | Paused) and self._set_open and self._set_thrown

    def _end_run(self, until: float) -> None:
        """End the set that is being thrown, and tell its catches."""
        self._close_set("stopped", self._thrown(until))
        self._after_set(self._told(), answered=True)

    def _told(self) -> str:
        """Return the catches of a run in words, and whether they are a best; show them, too."""
        catches, best = self._catches, self._is_best
        self.answer += f" {counted(catches, 'catch')}{': a personal best' if best else ''}."
        return catches_said(catches, best=best)

    def _rest_seconds(self) -> float:
        sets = self._request.sets
        closes_round = sets is not None and (self.number + 1) % sets == 0
        return self._request.round_rest if closes_round else self._request.rest_seconds

    def _close(self, told: str = "", *, answered: bool = False) -> None:
        """Say the last words, and then end."""
        summary = self._summary() if self._request.speak_rests else ""
        words = [text for text in (told, summary, self._block.ending) if text]
        until = self._deck.soon()
        for text in words:
            until = self._said(text, until)
        if words or answered:
            self.situation = Closing(until + TAIL, self.last)
        else:
            self._end()

    def _summary(self) -> str:
        """Return what is said of the whole practice: the tempo that several sets reached."""
        return "" if self._request.single else f"tempo {spoken(round(self.tempo))}"

    def _settle(self, unmarked: Mark | None) -> None:
        """Decide the tempo of the next set by how this one counts; it counts if it was thrown."""
        self._outcomes.append(self.tally.outcome(unmarked) if self._set_thrown else None)
        if self._set_thrown:
            self._counted = self.number
        self._rule = self._decided()

    def _decided(self, sets: int | None = None) -> TempoRule:
        """Return the rule after all sets so far, or only after the first `sets` of them."""
        rule = self._first_rule
        for counts in self._outcomes[:sets]:
            rule = rule.after(counts)
        return rule

    def _resumed_offset(self) -> float:
        """Return by how much the juggler had changed the tempo of the last set that was done."""
        done = self._block.done
        if not done or self._request.to is not None:
            return 0.0
        return done[-1].tempo - self._decided(len(done) - 1).tempo

    def _take(self, given: Given) -> None:
        super()._take(given)
        if self._counted is not None:
            # The tempo of the set to come is decided; that of the set after it is not.
            self._outcomes[self._counted] = self.tally.outcome(None)

    def _end(self) -> None:
        if self._set_thrown and not self._set_open and len(self._outcomes) == self.number:
            self._settle(self._request.unmarked)
        self._rule = self._decided()
        super()._end()

    def _note_throws(self) -> None:
        match self.situation:
            case Playing(scheduled) if not self._set_thrown:
                if self._deck.heard() >= scheduled.time_at(0):
                    self._set_thrown, self._counted = True, None
                    self._first_throw()

    def _go_on(self, scheduled: ScheduledRun, beat: int) -> None:
        """Count in again, and go on from the start of the cycle that was cut short."""
        pattern = scheduled.run.opening.pattern
        opening = max(beat, 0) // pattern.period * pattern.period
        seconds = scheduled.time_at(opening) - scheduled.time_at(0)
        thrown = Thrown(opening, seconds, self.tempo, pattern.caught_in(opening))
        self._before = added(self._before, thrown)
        self._play(remainder(scheduled.run, opening, AGAIN_READY))

    def _thrown(self, until: float | None = None) -> Thrown | None:
        scheduled = self._scheduled()
        if scheduled is None:
            return None
        part = scheduled.run.closing
        planned = part.beats if self._set_thrown else 0
        return added(self._before, self._thrown_from(scheduled, part.pattern, 0, planned, until))

    def _close_set(self, status: Ending, thrown: Thrown | None = None) -> None:
        scheduled, thrown = self._scheduled(), thrown or self._thrown()
        if self._set_open and scheduled is not None and thrown is not None:
            self._note_run(self._up_to_drop(thrown))
            self._end_set(scheduled.run.opening.pattern, thrown, status, self._request.unmarked)
        self._set_open = False

    def _note_run(self, thrown: Thrown) -> None:
        """Note the catches of a run, and whether there were never so many."""
        self._catches = thrown.catches
        self._is_best = self._best is not None and thrown.catches > self._best
        self._best = max(thrown.catches, self._best or 0)


def catches_said(catches: int, *, best: bool) -> str:
    """Return what is said of a run that has ended."""
    said = f"{spoken(catches)} {'catch' if catches == 1 else 'catches'}"
    return f"{said}, {PERSONAL_BEST}" if best else said


def added(before: Thrown, since: Thrown) -> Thrown:
    """Return two stretches of a set as one."""
    return replace(
        since,
        beats=before.beats + since.beats,
        seconds=before.seconds + since.seconds,
        catches=before.catches + since.catches,
    )


def tempo_rule(request: Request, tempo: float, slowest: float = SLOWEST_TEMPO) -> TempoRule:
    """Return how the tempo moves from set to set, the first set at `tempo`.

    A staircase goes down no further than `slowest`, in beats a minute, or than where it begins.
    """
    if request.staircase:
        slowest = min(max(slowest, SLOWEST_TEMPO), tempo)
        return Staircase(tempo, Rule(clean_sets=request.clean_sets, slowest=slowest))
    turning_set = (request.sets or 1) * request.rounds // 2 if request.back else None
    return Climb(tempo, request.raise_by, turning_set)


def remainder(run: Run, beat: int, ready: float) -> Run:
    """Return what is left of the set `run`, with a new count-in.

    `beat` is the first beat of the cycle that it goes on with, from its first throw. `ready` is the
    time for filling the hands, in seconds.
    """
    (part,) = run.throwing
    left = None if part.beats is None else part.beats - beat
    return replace(
        run,
        parts=(replace(part, beats=left),),
        tempo=run.tempo.since(beat),
        first=run.first if beat % 2 == 0 else other_hand(run.first),
        ready=ready,
        announcement="",
        announcement_seconds=0.0,
        prelude=(),
    )
