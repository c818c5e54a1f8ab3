"""Leads through a practice: what is played next, and what becomes of what is asked for.

The conductor knows the deck's clock and nothing of devices, keys or screens: it is told what is
asked for, and it sends commands.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from caller.playing.controls import Control
from caller.practice.asking import obey
from caller.practice.deck import AGAIN_READY, STILL_SHOWN, Deck
from caller.practice.keeper import Keeper
from caller.practice.plan import PracticePlan, remainder, rest_calls, set_run
from caller.practice.situation import Closing, Ended, Paused, Playing, Resting, Situation
from caller.practice.tally import HEARD_DROP, Tally
from caller.practice_log.records import Ending, Plan, Thrown
from engine.calling.numbers import spoken
from engine.practising.marks import Given, Mark
from engine.practising.staircase import Staircase
from engine.timing.clock import clock_of
from engine.timing.scheduler import TAIL
from engine.timing.tempo import held_tempo
from sounds.placing.score import Balance
from sounds.playing.passage import AHEAD, End, Passage, Play, Say, Silence, SpeakUp

if TYPE_CHECKING:
    from engine.practising.practice import TempoRule

AFTER_REST: Final = 0.3
"""Seconds between a rest and the announcement."""

PROGRESS_SECONDS: Final = 5.0
"""Seconds between two notes of how far a set has come."""


class Conductor:
    """Leads through a practice.

    Parameters
    ----------
    plan
        What is practised.
    deck
        What plays.
    keeper
        What is told how it went.
    balance
        What is heard, and how loud.
    seconds
        How long a text takes to say.

    Attributes
    ----------
    situation
        What is going on.
    number
        Of the set that is played, or that was played before the rest, from zero.
    speaking
        Whether words are heard.
    tally
        The marks of the whole practice.
    sets, throws
        Sets that have been closed, and the objects thrown in them.
    answer
        Empty: everything that is asked for can be done.
    """

    answer = ""

    def __init__(
        self,
        plan: PracticePlan,
        deck: Deck,
        keeper: Keeper,
        balance: Balance,
        seconds: Callable[[str], float],
    ) -> None:
        self.situation: Situation = Ended()
        self.number = 0
        self.speaking = True
        self.tally = Tally()
        self.sets = self.throws = 0
        self._plan = plan
        self._deck = deck
        self._keeper = keeper
        self._balance = balance
        self._seconds = seconds
        self._rules: list[TempoRule] = [plan.rule]
        self._offset = 0.0
        self._set_open = False
        self._thrown_before = 0
        self._seconds_before = 0.0
        self._noted = 0.0
        # Levels are laid out for all that has been said, so that no set is louder than the last.
        self._words = frozenset(text for _, text in rest_calls(plan.rest))

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
            case Playing(passage) if self._deck.heard() >= self._noted + PROGRESS_SECONDS:
                self._noted = self._deck.heard()
                self._keeper.progress(self._thrown(passage))
            case Resting(until) if self._deck.heard() >= until:
                self._settle(self._plan.unmarked)
                self._next_set(AFTER_REST)
            case Closing(until) if self._deck.heard() >= until:
                self._end()

    def ask(self, control: Control) -> None:
        """Do what is asked for, if it means anything now."""
        if isinstance(self.situation, Closing | Ended):
            return
        obey(control, self)

    def stop(self) -> None:
        """End the practice now."""
        self._close_set("stopped")
        self._end()

    def pause(self) -> None:
        """Pause, unless that is done already."""
        if isinstance(self.situation, Playing | Resting):
            self.pause_or_go_on()

    def keep(self) -> None:
        """Keep how far the set has come, when the practice cannot go on."""
        self._close_set("stopped")

    def start_over(self) -> None:
        """Begin the set, or the rest, again after the deck itself has begun anew."""
        if not self.speaking:
            self._deck.send(SpeakUp(on=False))
        match self.situation:
            case Playing():
                self._close_set("stopped")
                self._play_set(AGAIN_READY)
            case Resting():
                self._rest(self._plan.rest_before(self.number + 1))
            case Closing() | Ended():
                self._end()

    def _play_set(self, ready: float) -> None:
        run = set_run(self._plan, self.tempo, ready, self._seconds)
        passage = Passage(run, self._deck.soon(), self._balance, self._words)
        self._words |= passage.texts()
        part = run.opening
        self._keeper.begin_set(Plan(part.pattern, run.tempo.start, part.beats, run.first))
        self._set_open = True
        self._thrown_before, self._seconds_before = 0, 0.0
        self.tally.begin_set()
        self._deck.send(Play(passage))
        self._noted = passage.start
        self.situation = Playing(passage)

    def _finish_set(self) -> None:
        """End a set that has come to its end, and rest, or end the practice."""
        self._close_set("finished")
        following = self.number + 1
        if self._plan.total is not None and following >= self._plan.total:
            self._settle(self._plan.unmarked)
            self._close()
            return
        self._rest(self._plan.rest_before(following))

    def _rest(self, seconds: float) -> None:
        start = self._deck.soon()
        for moment, text in rest_calls(seconds):
            if self._plan.run.say != "nothing":
                self._deck.send(Say(text, start + moment, self._balance))
        self.situation = Resting(start + seconds)

    def _close(self) -> None:
        """Tell the tempo reached after several sets, and end when that has been said."""
        if self._plan.total == 1 or self._plan.run.say == "nothing":
            self._end()
            return
        told = f"tempo {spoken(round(self.tempo))}"
        start = self._deck.soon()
        self._deck.send(Say(told, start, self._balance))
        self.situation = Closing(start + self._seconds(told) + TAIL)

    def _end(self) -> None:
        self._deck.send(End())
        self.situation = Ended()

    def _next_set(self, ready: float) -> None:
        self.number += 1
        self._play_set(ready)

    def _settle(self, unmarked: Mark | None) -> None:
        """Let the tempo move by how the set counts, now that no more marks are waited for."""
        self._rules.append(self._rules[-1].after(self.tally.outcome(unmarked)))

    def pause_or_go_on(self) -> None:
        """Pause, or go on after a pause."""
        match self.situation:
            case Playing(passage):
                beat = passage.beat_from(self._deck.played())
                if beat is not None:
                    self._deck.send(Silence())
                    self.situation = Paused(passage, beat)
            case Resting(until):
                self._deck.send(Silence())
                self.situation = Paused(left=max(until - self._deck.heard(), 0.0))
            case Paused(None, _, left):
                self._rest(left)
            case Paused(passage, beat) if passage is not None:
                self._go_on(passage, beat)

    def _go_on(self, passage: Passage, beat: int) -> None:
        """Count in again, and go on with the cycle that was cut short."""
        period = passage.run.opening.pattern.period
        opening = max(beat, 0) // period * period
        run = remainder(passage.run, opening, AGAIN_READY)
        self._thrown_before += opening
        self._seconds_before += passage.time_at(opening) - passage.time_at(0)
        rest = Passage(run, self._deck.soon(), self._balance, self._words)
        self._deck.send(Play(rest))
        self._noted = rest.start
        self.situation = Playing(rest)

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

    def _interrupt(self) -> None:
        self._close_set("stopped")
        self._deck.send(Silence())

    def nudge(self, change: float) -> None:
        """Change the tempo by so many beats a minute, from the next beats on."""
        tempo = held_tempo(self._tempo_now() + change)
        match self.situation:
            case Playing(passage):
                changed = passage.at_tempo(tempo, self._deck.played())
                if changed is not None:
                    self._deck.send(changed)
                    # The beats before the change are as they were, and are still to be seen.
                    self.situation = Playing(changed.passage, changed.pivot - STILL_SHOWN)
            case Paused(passage, beat) if passage is not None:
                changed = passage.at_tempo(tempo, passage.time_at(beat) - AHEAD)
                self.situation = Paused(changed.passage if changed else passage, beat)
        self._offset += change

    def _tempo_now(self) -> float:
        passage = self._passage()
        if passage is None:
            return self.tempo
        beat = clock_of(passage.run).beat_at(self._deck.played() - passage.start)
        return passage.run.tempo.tempo_at(beat)

    def switch_voice(self) -> None:
        """Let words be heard, or not."""
        self.speaking = not self.speaking
        self._deck.send(SpeakUp(self.speaking))

    def mark(self, mark: Mark) -> None:
        """Take a mark for this set."""
        self.tally.take(Given(mark))
        self._keeper.mark(Given(mark), self._beat())

    def hear_drop(self) -> None:
        """Take a drop that was heard for the mark of this set."""
        self.tally.take(HEARD_DROP)
        self._keeper.mark(HEARD_DROP, self._beat())

    def _passage(self) -> Passage | None:
        match self.situation:
            case Playing(passage) | Paused(passage):
                return passage
        return None

    def _beat(self) -> int | None:
        """Return the last beat heard of the throws; None outside them."""
        passage = self._passage()
        if passage is None:
            return None
        beats = self._thrown(passage).beats
        return beats - 1 if beats else None

    def _thrown(self, passage: Passage) -> Thrown:
        clock = clock_of(passage.run)
        until = self._deck.heard()
        if isinstance(self.situation, Paused):
            until = passage.time_at(self.situation.beat)
        beat = clock.beat_at(until - passage.start)
        planned = passage.run.closing.beats
        begun = int(beat) + 1 if beat >= 0 else 0
        beats = begun if planned is None else min(begun, planned)
        seconds = clock.time_at(beats) - clock.time_at(0)
        return Thrown(
            self._thrown_before + beats,
            self._seconds_before + seconds,
            passage.run.tempo.tempo_at(max(beats - 1, 0)),
        )

    def _close_set(self, status: Ending) -> None:
        passage = self._passage()
        if self._set_open and passage is not None:
            thrown = self._thrown(passage)
            self.sets += 1
            self.throws += passage.run.opening.pattern.thrown_in(thrown.beats)
            self._keeper.end_set(thrown, status, self._plan.unmarked)
        self._set_open = False
