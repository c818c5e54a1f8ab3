"""Leads through a practice of one pattern: set after set, with rests and a tempo that may move."""

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from caller.practice.conductor import Conductor
from caller.practice.deck import AGAIN_READY, Deck
from caller.practice.keeper import Keeper
from caller.practice.plan import PracticePlan, remainder, rest_calls, set_run
from caller.practice.situation import Closing, Paused, Playing, Resting
from caller.practice_log.records import Ending, Plan, Thrown
from engine.calling.numbers import spoken
from engine.practising.marks import Mark
from engine.practising.staircase import Staircase
from engine.timing.scheduler import TAIL
from engine.timing.tempo import held_tempo
from sounds.placing.score import Balance
from sounds.playing.passage import AHEAD, Passage, Say

if TYPE_CHECKING:
    from engine.practising.practice import TempoRule

AFTER_REST: Final = 0.3
"""Seconds between a rest and the announcement."""


class PatternConductor(Conductor):
    """Leads through a practice of one pattern.

    Parameters
    ----------
    plan
        What is practised.
    deck, keeper, balance
        As for every conductor.
    seconds
        How long a text takes to say.

    Attributes
    ----------
    number
        Of the set that is played, or that was played before the rest, from zero.
    """

    def __init__(
        self,
        plan: PracticePlan,
        deck: Deck,
        keeper: Keeper,
        balance: Balance,
        seconds: Callable[[str], float],
    ) -> None:
        words = frozenset(text for _, text in rest_calls(plan.rest))
        super().__init__(deck, keeper, balance, words, calls_rests=plan.run.say != "nothing")
        self.number = 0
        self._plan = plan
        self._seconds = seconds
        self._rules: list[TempoRule] = [plan.rule]
        self._offset = 0.0
        self._set_open = False
        self._thrown_before = 0
        self._seconds_before = 0.0

    @property
    def tempo(self) -> float:
        """The tempo that the current set began at, or that a set now would, in beats a minute."""
        return held_tempo(self._rules[-1].tempo + self._offset)

    @property
    def settled(self) -> float | None:
        """The tempo that a staircase has settled at, in beats a minute; None if none has."""
        rule = self._rules[-1]
        settled = rule.settled if isinstance(rule, Staircase) else None
        return None if settled is None else held_tempo(settled + self._offset)

    @property
    def place(self) -> str:
        """Which set this is, in words."""
        return self._plan.place(self.number)

    def begin(self) -> None:
        """Begin with the first set."""
        self._play_set(self._plan.ready)

    def step(self) -> None:
        """Go on where something has come to its end; to be called often."""
        match self.situation:
            case Playing(passage) if passage.end is not None and self._deck.heard() >= passage.end:
                self._finish_set()
            case Playing():
                self._note_progress()
            case Resting(until) if self._deck.heard() >= until:
                self._settle(self._plan.unmarked)
                self._next_set(AFTER_REST)
            case Closing(until) if self._deck.heard() >= until:
                self._end()

    def again(self) -> None:
        """Begin the set again."""
        self._interrupt()
        self._play_set(AGAIN_READY)

    def skip(self) -> None:
        """Go on to the next set, or end after the last one."""
        # A set that was left does not count without a mark.
        unmarked = None if self._set_open else self._plan.unmarked
        self._interrupt()
        self._settle(unmarked)
        if self._plan.total is not None and self.number + 1 >= self._plan.total:
            self._close()
        else:
            self._next_set(AGAIN_READY)

    def back(self) -> None:
        """Go back to the set before, as fast as it was; from a rest, to the set that it follows."""
        if self._set_open and self.number > 0:
            self.number -= 1
            self._rules.pop()
        self.again()

    def nudge(self, change: float) -> None:
        """Change the tempo by so many beats a minute, from the next beats on."""
        passage = self._passage()
        tempo = held_tempo((self.tempo if passage is None else self._tempo_now(passage)) + change)
        match self.situation:
            case Playing(passage):
                self._change_tempo(passage, tempo)
            case Paused(passage, beat) if passage is not None:
                changed = passage.at_tempo(tempo, passage.time_at(beat) - AHEAD)
                self.situation = Paused(changed.passage if changed else passage, beat)
        self._offset += change

    def _play_set(self, ready: float) -> None:
        run = set_run(self._plan, self.tempo, ready, self._seconds)
        part = run.opening
        self._keeper.begin_set(Plan(part.pattern, run.tempo.start, part.beats, run.first))
        self._set_open = True
        self._thrown_before, self._seconds_before = 0, 0.0
        self.tally.begin_set()
        self._play(run)

    def _next_set(self, ready: float) -> None:
        self.number += 1
        self._play_set(ready)

    def _finish_set(self) -> None:
        """End a set that has come to its end, and rest, or end the practice."""
        self._close_set("finished")
        if self._plan.total is not None and self.number + 1 >= self._plan.total:
            self._settle(self._plan.unmarked)
            self._close()
            return
        self._rest(self._rest_seconds())

    def _rest_seconds(self) -> float:
        return self._plan.rest_before(self.number + 1)

    def _close(self) -> None:
        """Tell the tempo reached after several sets, and end when that has been said."""
        if self._plan.total == 1 or self._plan.run.say == "nothing":
            self._end()
            return
        told = f"tempo {spoken(round(self.tempo))}"
        start = self._deck.soon()
        self._deck.send(Say(told, start, self._balance))
        self.situation = Closing(start + self._seconds(told) + TAIL)

    def _settle(self, unmarked: Mark | None) -> None:
        """Let the tempo move by how the set counts, now that no more marks are waited for."""
        self._rules.append(self._rules[-1].after(self.tally.outcome(unmarked)))

    def _go_on(self, passage: Passage, beat: int) -> None:
        """Count in again, and go on with the cycle that was cut short."""
        period = passage.run.opening.pattern.period
        opening = max(beat, 0) // period * period
        self._thrown_before += opening
        self._seconds_before += passage.time_at(opening) - passage.time_at(0)
        self._play(remainder(passage.run, opening, AGAIN_READY))

    def _thrown(self) -> Thrown | None:
        passage = self._passage()
        if passage is None:
            return None
        since = self._thrown_from(passage, 0, passage.run.closing.beats)
        beats, seconds = self._thrown_before + since.beats, self._seconds_before + since.seconds
        return replace(since, beats=beats, seconds=seconds)

    def _close_set(self, status: Ending) -> None:
        passage, thrown = self._passage(), self._thrown()
        if self._set_open and passage is not None and thrown is not None:
            self._end_set(passage.run.opening.pattern, thrown, status, self._plan.unmarked)
        self._set_open = False
