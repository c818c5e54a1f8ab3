"""Leads through a routine: from part to part, back to one, on to one, as often as is wanted.

Like `caller.practice.conductor` it knows the deck's clock and nothing of devices, keys or
screens. Each part is a set of its own in the log, so that marks tell which one they belong to.
"""

from typing import Final

from caller.playing.controls import Control
from caller.practice.asking import obey
from caller.practice.deck import STILL_SHOWN, Deck
from caller.practice.keeper import Keeper
from caller.practice.plan import rest_calls
from caller.practice.routine_plan import RoutinePlan
from caller.practice.situation import Ended, Paused, Playing, Resting, Situation
from caller.practice.tally import HEARD_DROP, Tally
from caller.practice_log.records import Ending, Plan, Thrown
from engine.practising.marks import Given, Mark
from engine.timing.clock import clock_of
from engine.timing.places import Place, Places
from engine.timing.run import Part, Run
from engine.timing.tempo import held_tempo
from sounds.placing.score import Balance
from sounds.playing.passage import End, Passage, Play, Say, Silence, SpeakUp

PROGRESS_SECONDS: Final = 5.0
"""Seconds between two notes of how far a part has come."""

MUSIC_KEEPS_TIME: Final = "The tempo is that of the music."


class RoutineConductor:
    """Leads through a routine.

    Parameters
    ----------
    plan
        What is rehearsed.
    deck
        What plays.
    keeper
        What is told how it went.
    balance
        What is heard, and how loud.

    Attributes
    ----------
    situation
        What is going on.
    speaking
        Whether words are heard.
    tally
        The marks of the whole rehearsal.
    sets, throws
        Parts that have been thrown, and the objects thrown in them.
    answer
        What there is to say to what was asked for last; empty for nothing.
    """

    def __init__(self, plan: RoutinePlan, deck: Deck, keeper: Keeper, balance: Balance) -> None:
        self.situation: Situation = Ended()
        self.speaking = True
        self.tally = Tally()
        self.sets = self.throws = 0
        self.answer = ""
        self._plan = plan
        self._deck = deck
        self._keeper = keeper
        self._balance = balance
        self._time = 0
        self._factor = 1.0
        self._numbers: tuple[int, ...] = (plan.begin,)
        self._places: Places | None = None
        self._open: Place | None = None
        self._noted = 0.0
        # Levels are laid out for all that has been said, so that nothing is louder than before.
        rests = rest_calls(plan.rest) if plan.times > 1 else []
        self._words = frozenset(text for _, text in rests)

    @property
    def place(self) -> str:
        """Which part this is, in words."""
        told = f"part {self._number()} of {len(self._plan.laid.parts)}"
        times = self._plan.times
        return told if times == 1 else f"{told}, time {self._time + 1} of {times}"

    def begin(self) -> None:
        """Begin with the part that was asked for."""
        self._play(self._plan.begin, again=False)

    def step(self) -> None:
        """Go on where something has come to its end; to be called often."""
        heard = self._deck.heard()
        match self.situation:
            case Playing(passage) if passage.end is not None and heard >= passage.end:
                self._close_part("finished")
                self._finish()
            case Playing(passage):
                self._follow(passage, heard)
            case Resting(until) if heard >= until:
                self._play(self._plan.begin, again=False)

    def ask(self, control: Control) -> None:
        """Do what is asked for, if it means anything now."""
        self.answer = ""
        if not isinstance(self.situation, Ended):
            obey(control, self)

    def pause_or_go_on(self) -> None:
        """Pause; or go on, with the beginning of the part that was cut."""
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
            case Paused():
                self.again()

    def again(self) -> None:
        """Begin the part again."""
        self._begin_at(self._number())

    def skip(self) -> None:
        """Go on to the next part, or end after the last one."""
        later = [number for number in self._plan.numbers if number > self._number()]
        if isinstance(self.situation, Resting):
            later = [self._plan.begin]
        if later:
            self._begin_at(later[0])
        else:
            self._interrupt()
            self._finish()

    def back(self) -> None:
        """Go back to the part before."""
        earlier = [number for number in self._plan.numbers if number < self._number()]
        self._begin_at(earlier[-1] if earlier else self._plan.numbers[0])

    def nudge(self, change: float) -> None:
        """Change the tempo, and that of all parts to come alike; music keeps its own."""
        if self._plan.music is not None:
            self.answer = MUSIC_KEEPS_TIME
            return
        passage = self._passage()
        if passage is None:
            return
        paused = isinstance(self.situation, Paused)
        before = self._tempo_now(passage)
        tempo = held_tempo(before + change)
        self._factor *= tempo / before
        if not paused:
            changed = passage.at_tempo(tempo, self._deck.played())
            if changed is not None:
                self._deck.send(changed)
                self.situation = Playing(changed.passage, changed.pivot - STILL_SHOWN)

    def switch_voice(self) -> None:
        """Let words be heard, or not."""
        self.speaking = not self.speaking
        self._deck.send(SpeakUp(self.speaking))

    def mark(self, mark: Mark) -> None:
        """Take a mark for the part that is thrown, or that was thrown last."""
        self._take(Given(mark))

    def hear_drop(self) -> None:
        """Take a drop that was heard for a mark of the part that is thrown."""
        self._take(HEARD_DROP)

    def _take(self, given: Given) -> None:
        self.tally.take(given)
        thrown = None if self._open is None else self._thrown(self._open)
        self._keeper.mark(given, thrown.beats - 1 if thrown and thrown.beats else None)

    def stop(self) -> None:
        """End the rehearsal now."""
        self._close_part("stopped")
        self._end()

    def pause(self) -> None:
        """Pause, unless that is done already."""
        if isinstance(self.situation, Playing | Resting):
            self.pause_or_go_on()

    def keep(self) -> None:
        """Keep how far the part has come, when the rehearsal cannot go on."""
        self._close_part("stopped")

    def start_over(self) -> None:
        """Begin the part, or the rest, again after the deck itself has begun anew."""
        if not self.speaking:
            self._deck.send(SpeakUp(on=False))
        match self.situation:
            case Playing():
                number = self._number()
                self._close_part("stopped")
                self._play(number, again=True)
            case Resting():
                self._rest(self._plan.rest)
            case Ended():
                self._end()

    def _begin_at(self, number: int) -> None:
        self._interrupt()
        self._play(number, again=True)

    def _interrupt(self) -> None:
        self._close_part("stopped")
        self._deck.send(Silence())

    def _play(self, number: int, *, again: bool) -> None:
        begun = self._plan.part_from(number, self._factor, again=again)
        soon = self._deck.soon()
        passage = Passage(begun.run, soon, self._balance, self._words, begun.track)
        self._words |= passage.texts()
        self._numbers, self._places, self._open = begun.numbers, Places(begun.run), None
        self._deck.send(Play(passage))
        self._noted = passage.start
        self.situation = Playing(passage)

    def _follow(self, passage: Passage, heard: float) -> None:
        """Open and close parts as they are heard, and note how far one has come."""
        beat = clock_of(passage.run).beat_at(heard - passage.start)
        if beat < 0 or self._places is None:
            return
        place = self._places.at(beat)
        if self._open is not None and place.index != self._open.index:
            self._close_part("finished")
        part = place.part
        if self._open is None and isinstance(part, Part) and not part.leads:
            self._open_part(passage.run, part, place)
        elif self._open is not None and heard >= self._noted + PROGRESS_SECONDS:
            self._noted = heard
            self._keeper.progress(self._thrown(self._open))

    def _open_part(self, run: Run, part: Part, place: Place) -> None:
        tempo = run.tempo.tempo_at(place.first)
        self.tally.begin_set()
        self._keeper.begin_set(Plan(part.pattern, tempo, part.beats, part.first or run.first))
        self._open = place

    def _close_part(self, status: Ending) -> None:
        place, self._open = self._open, None
        if place is None or not isinstance(place.part, Part):
            return
        thrown = self._thrown(place)
        self.sets += 1
        self.throws += place.part.pattern.thrown_in(thrown.beats)
        self._keeper.end_set(thrown, status, None)

    def _thrown(self, place: Place) -> Thrown:
        passage = self._passage()
        if passage is None:
            return Thrown(0, 0.0, 0.0)
        clock, until = clock_of(passage.run), self._deck.heard()
        if isinstance(self.situation, Paused):
            until = passage.time_at(self.situation.beat)
        begun = int(clock.beat_at(until - passage.start)) + 1 - place.first
        beats = max(0, min(begun, place.part.beats or begun))
        last = place.first + beats
        seconds = clock.time_at(last) - clock.time_at(place.first)
        return Thrown(beats, seconds, passage.run.tempo.tempo_at(max(last - 1, 0)))

    def _finish(self) -> None:
        """Rest and begin anew, or end."""
        if self._time + 1 < self._plan.times:
            self._time += 1
            self._rest(self._plan.rest)
        else:
            self._end()

    def _rest(self, seconds: float) -> None:
        start = self._deck.soon()
        for moment, text in rest_calls(seconds):
            if self._plan.options.say != "nothing":
                self._deck.send(Say(text, start + moment, self._balance))
        self.situation = Resting(start + seconds)

    def _end(self) -> None:
        self._deck.send(End())
        self.situation = Ended()

    def _passage(self) -> Passage | None:
        match self.situation:
            case Playing(passage) | Paused(passage):
                return passage
        return None

    def _tempo_now(self, passage: Passage) -> float:
        beat = clock_of(passage.run).beat_at(self._deck.played() - passage.start)
        return passage.run.tempo.tempo_at(beat)

    def _number(self) -> int:
        """Return the number of the part that is heard, or comes next."""
        passage = self._passage()
        if passage is None or self._places is None:
            return self._numbers[0]
        heard = self._deck.heard()
        if isinstance(self.situation, Paused):
            heard = passage.time_at(self.situation.beat)
        beat = clock_of(passage.run).beat_at(heard - passage.start)
        return self._numbers[self._places.at(beat).index]
