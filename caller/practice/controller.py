"""The controller of a practice: all that is the same for a pattern and for a routine.

A controller knows the deck's clock and nothing of devices, keys or screens: it gets what is asked
for, and sends commands. What is going on is kept as plain data, the situation.
"""

import math
from abc import ABC, abstractmethod
from dataclasses import replace
from typing import Final

from throwcount.caller.log.records import Ending, Thrown
from throwcount.caller.options.request import Request
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.recorder import HEARD_DROP, Tally
from throwcount.caller.practice.situation import (
    REST,
    Closing,
    Ended,
    Paused,
    Playing,
    Resting,
    Situation,
    is_resting,
    rest_calls,
    slowest_allowed,
)
from throwcount.caller.terminal.controls import (
    AGAIN,
    BACK,
    CLEAN,
    DROP,
    FASTER,
    GO,
    NEXT,
    PAUSE,
    PEDAL,
    SLOWER,
    STOP,
    TWICE,
    TWICE_SECONDS,
    VOICE,
    Control,
)
from throwcount.engine.patterns.flight import tempo_warnings
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.practice.tempo_rules import Given, Mark, Source
from throwcount.engine.takes.catches import caught_by
from throwcount.engine.timing.run import Part, Places, Run, clock_of
from throwcount.engine.timing.tempo import held_tempo
from throwcount.sounds.mixing.music_bed import Track
from throwcount.sounds.mixing.score import Balance
from throwcount.sounds.output.commands import (
    AHEAD,
    End,
    Reply,
    Say,
    ScheduledRun,
    Silence,
    SpeakUp,
)
from throwcount.sounds.voices.voice import natural_seconds

MARKING: Final = (CLEAN, DROP, GO, TWICE)
"""What still means something while the last words are said."""

NUDGE: Final = 4.0
"""Beats a minute by which "faster" and "slower" change the tempo."""

REACTION: Final = 0.3
"""Seconds from a drop to the press that tells of it. A simple reaction takes about 0.2 s
(Woodworth & Schlosberg, Experimental Psychology, 1954; from memory), and a foot has a way to go."""

PROGRESS_SECONDS: Final = 5.0
"""Seconds between two records of how far a set has come."""

STILL_SHOWN: Final = 8
"""Beats before a change of tempo that are still shown when it is asked for."""

NO_SET: Final = "Nothing has been thrown yet, so the mark is not kept."
THIS_SET: Final = "this set"

AFTER_TOLD: Final = 0.5
"""Seconds between something that is said and what follows it."""

SAME_MOMENT: Final = 0.001
"""Seconds before the moment at which a catch failed, so that it is not counted."""


class Controller(ABC):
    """Leads through a practice, set by set.

    `rests` says whether there may be rests. Levels are laid out for all that may be said, in rests
    too, so that no set is louder than another.

    Attributes
    ----------
    situation
        What is going on.
    speaking
        Whether words are heard.
    tally
        The marks of the whole practice.
    sets, throws
        The number of sets that have ended, and of the objects thrown in them.
    last
        Whether the sound ends with it.
    answer
        A sentence about what was asked for last, or about the tempo of a set that begins; empty
        where there is nothing to say.
    """

    def __init__(
        self, request: Request, session: LiveSession, balance: Balance, *, rests: bool
    ) -> None:
        self.situation: Situation = Ended()
        self.speaking = self.last = True
        self.tally = Tally()
        self.sets = self.throws = 0
        self.answer = ""
        self._request = request
        self._deck = session.player
        self._recorder = session.recorder
        self._balance = balance
        self._seconds = natural_seconds(session.voice)
        calls = rest_calls(request.rest_seconds) if rests and request.speak_rests else []
        self._words = frozenset(text for _, text in calls)
        self._noted = 0.0
        self._go_at = math.inf
        self._dropped: Thrown | None = None
        self._is_silent = False

    @property
    @abstractmethod
    def place(self) -> str:
        """Where in the practice this is, in words."""

    @abstractmethod
    def begin(self) -> None:
        """Begin the practice."""

    @abstractmethod
    def step(self) -> None:
        """Go on to what is next if something has come to its end. This is called often."""

    @abstractmethod
    def again(self) -> None:
        """Begin again what is going on."""

    @abstractmethod
    def skip(self) -> None:
        """Go on to what comes next."""

    @abstractmethod
    def back(self) -> None:
        """Go back to what came before."""

    @abstractmethod
    def nudge(self, change: float) -> None:
        """Change the tempo by `change` beats a minute."""

    def ask(self, control: Control) -> None:
        """Do what a key or pedal asks for, if it means anything now."""
        self.answer = ""
        if isinstance(self.situation, Ended):
            return
        if isinstance(self.situation, Closing) and control not in MARKING:
            return
        doing = {
            PAUSE: self.pause_or_go_on,
            AGAIN: self.again,
            NEXT: self.skip,
            BACK: self.back,
            SLOWER: lambda: self.nudge(-NUDGE),
            FASTER: lambda: self.nudge(NUDGE),
            VOICE: self.switch_voice,
            CLEAN: lambda: self.mark("clean"),
            DROP: lambda: self.mark("drop"),
            GO: self.go_or_clean,
            PEDAL: self.press,
            TWICE: self.press_twice,
            STOP: self.stop,
        }
        doing[control]()

    def pause_or_go_on(self) -> None:
        """Pause, or go on after a pause."""
        match self.situation:
            case Playing(scheduled):
                beat = scheduled.beat_from(self._deck.played())
                if beat is not None:
                    self._deck.send(Silence())
                    self.situation = Paused(scheduled, beat)
            case Resting(until):
                self._deck.send(Silence())
                self.situation = Paused(left=max(until - self._deck.heard(), 0.0))
            case Paused(None, _, left):
                self._rest(left)
            case Paused(scheduled, beat) if scheduled is not None:
                self._go_on(scheduled, beat)

    def pause(self) -> None:
        """Pause a set or a rest; do nothing at any other time."""
        if isinstance(self.situation, Playing | Resting):
            self.pause_or_go_on()

    def switch_voice(self) -> None:
        """Let words be heard, or not."""
        self.speaking = not self.speaking
        self._deck.send(SpeakUp(self.speaking))

    def mark(self, mark: Mark, source: Source = "key") -> None:
        """Take a mark of the juggler for the set that is thrown, or was thrown last."""
        self._mark(Given(mark, source), self._deck.heard() - REACTION)

    def hear_drop(self, moment: float) -> None:
        """Take a drop that was heard as a mark for the same set.

        `moment` is when the first catch that failed was due, on the deck's clock.
        """
        self._mark(HEARD_DROP, moment - SAME_MOMENT)

    def go_or_clean(self) -> None:
        """Go on at once from a rest; at any other time, take the set as clean."""
        if is_resting(self.situation):
            self._go()
        else:
            self.mark("clean")

    def press(self) -> None:
        """Take one press of the only pedal: a drop, or, in a rest, to go on."""
        if not is_resting(self.situation):
            self.mark("drop", "pedal")
        elif math.isinf(self._go_at):
            # A second press would make it mean something else.
            self._go_at = self._deck.heard() + TWICE_SECONDS

    def press_twice(self) -> None:
        """Take two presses of the only pedal: the set was clean, whatever the first one meant."""
        self._go_at = math.inf
        self.mark("clean", "pedal")

    def stop(self) -> None:
        """End the practice now."""
        self._close_set("stopped")
        self._end()

    def keep(self) -> None:
        """Record how far the set has come when the practice cannot go on."""
        self._close_set("stopped")

    def start_over(self) -> None:
        """Begin the set or the rest again after the deck has restarted."""
        if not self.speaking:
            self._deck.send(SpeakUp(on=False))
        match self.situation:
            case Playing():
                self._begin_anew()
            case Paused(scheduled) if scheduled is not None:
                self._begin_anew()
                self.pause()
            case Resting():
                self._rest(self._rest_seconds())
            case Closing() | Ended():
                self._end()

    def _begin_anew(self) -> None:
        """Begin what was played again, of which `keep` has recorded how far it came."""
        self.again()

    @abstractmethod
    def _go_on(self, scheduled: ScheduledRun, beat: int) -> None:
        """Go on with a paused set, at `beat`."""

    @abstractmethod
    def _rest_seconds(self) -> float:
        """Return the length of the next rest, in seconds."""

    @abstractmethod
    def _note_throws(self) -> None:
        """Note the first throw of a set if it has been heard."""

    @abstractmethod
    def _thrown(self, until: float | None = None) -> Thrown | None:
        """Return how far the set has come; None where none is thrown.

        Catches count up to `until` on the deck's clock; up to now if None.
        """

    @abstractmethod
    def _close_set(self, status: Ending) -> None:
        """End the set that is thrown, if there is one."""

    def _play(self, run: Run, track: Track | None = None) -> None:
        scheduled = ScheduledRun(run, 0.0, self._balance, self._words, track)
        self._words |= scheduled.texts()
        scheduled = self._deck.begin(scheduled)
        self._noted = scheduled.start
        self.situation = Playing(scheduled)

    def _nudged(self, run: Run, beat: float, before: float, change: float) -> float:
        """Return the tempo after a change of `before` at a beat, and answer what is wrong with it.

        A change to a slower tempo ends where a throw would reach the ceiling.
        """
        room, tempo = self._request.room, held_tempo(before + change)
        allowed = min(math.ceil(slowest_allowed(run, beat, before, room)), before)
        if tempo < allowed:
            self.answer = f"No slower: the ceiling is at {room.ceiling:g} m."
            return allowed
        part = Places(run).at(beat).part
        if isinstance(part, Part):
            self.answer = self._warned(part, tempo)
        return tempo

    def _warned(self, part: Part, tempo: float) -> str:
        """Return what is wrong with a tempo for a part; empty if nothing is."""
        throws = (throw for _, throw in part.pattern.throws())
        warnings = tempo_warnings(throws, tempo, tempo, self._request.room)
        return " ".join(warning.sentence for warning in warnings)

    def _change_tempo(self, scheduled: ScheduledRun, tempo: float) -> None:
        """Change the tempo of what is played, from the first beat that can be changed."""
        changed = scheduled.at_tempo(tempo, self._deck.played())
        if changed is not None:
            self._deck.send(changed)
            # The last beats before the change are still shown.
            self.situation = Playing(changed.scheduled, changed.pivot - STILL_SHOWN)

    def _rest(self, seconds: float, told: str = "", coming: str = "") -> None:
        """Rest for so long, or until a press.

        `told` is said first, and `coming` at the end, or at once where the rest has no end.
        """
        start, waits = self._said(told, self._deck.soon()), self._request.wait
        speaks = self._request.speak_rests and seconds > 0
        calls = rest_calls(0.0 if waits else seconds) if speaks else []
        for moment, text in calls:
            self._deck.send(Say(text, start + moment, self._balance))
        until = self._said(coming, start + (self._seconds(REST) if waits else seconds))
        self._go_at = math.inf
        self.situation = Resting(math.inf if waits else until)

    def _said(self, text: str, start: float) -> float:
        """Say something, if it is not empty, and return when what follows may begin."""
        if not text:
            return start
        self._deck.send(Say(text, start, self._balance))
        return start + self._seconds(text) + AFTER_TOLD

    def _interrupt(self) -> None:
        self._close_set("stopped")
        if not self._is_silent:  # It would silence the answer to the press, too.
            self._deck.send(Silence())
        self._is_silent = False

    def _end(self) -> None:
        if self.last:
            self._deck.send(End())
        self.situation = Ended()

    def _first_throw(self) -> None:
        """Let marks be for the set that is being thrown; until now they were for the one before."""
        self.tally.begin_set(self.place or THIS_SET)
        self._dropped = None
        self._recorder.first_throw()

    def _mark(self, given: Given, until: float) -> None:
        """Take a mark for the set that was thrown last, and answer it.

        `until` is the moment of the deck's clock up to which catches count if it ends the set.
        """
        self._note_throws()
        if not self.tally.place:
            self.answer = NO_SET
            return
        ends = self._is_ended_by(given)
        if ends:
            self._deck.send(Silence())
        self._take(given)
        if given.mark == "clean":
            self._dropped = None
        elif self._dropped is None:
            self._dropped = self._thrown(until)
        if not given.heard or ends:
            self._deck.send(Reply(given.mark, self._balance.click_level))
        kept = "not yet kept" if self._recorder.waiting else "kept"
        self.answer = f"{given.mark.capitalize()} {kept} for {self.tally.place}."
        if ends:
            self._end_run(until)

    def _take(self, given: Given) -> None:
        """Keep a mark for the set that was thrown last."""
        self.tally.take(given)
        thrown = self._thrown()
        self._recorder.mark(given, thrown.beats - 1 if thrown and thrown.beats else None)

    def _is_ended_by(self, given: Given) -> bool:  # noqa: ARG002 - here nothing is
        """Return whether a mark ends what is being thrown."""
        return False

    def _end_run(self, until: float) -> None:
        """End what is being thrown, with the catches up to a moment of the deck's clock."""
        raise NotImplementedError

    def _go(self) -> None:
        """Go on from a rest, as a press asks for."""
        self._go_at = math.inf
        self._deck.send(Silence())
        self._deck.send(Reply("go", self._balance.click_level))
        self._is_silent = True
        self.skip()

    def _waits(self, until: float) -> bool:
        """Return whether a rest goes on, which is over at a moment or when a press is due."""
        heard = self._deck.heard()
        if heard >= self._go_at:
            self._go()
            return True
        return heard < until

    def _note_progress(self) -> None:
        """Record how far the set has come, every few seconds."""
        heard = self._deck.heard()
        if heard < self._noted + PROGRESS_SECONDS:
            return
        thrown = self._thrown()
        if thrown is not None:
            self._noted = heard
            self._recorder.progress(thrown)

    def _end_set(
        self, pattern: Pattern, thrown: Thrown, status: Ending, unmarked: Mark | None = None
    ) -> None:
        self.sets += 1
        self.throws += pattern.thrown_in(thrown.beats)
        self._recorder.end_set(self._up_to_drop(thrown), status, unmarked)

    def _up_to_drop(self, thrown: Thrown) -> Thrown:
        """Return how far a set has come, with the catches up to its first drop."""
        if self._dropped is None:
            return thrown
        return replace(thrown, catches=min(self._dropped.catches, thrown.catches))

    def _scheduled(self) -> ScheduledRun | None:
        match self.situation:
            case Playing(scheduled) | Paused(scheduled):
                return scheduled
        return None

    def _next_beat(self, scheduled: ScheduledRun) -> float:
        """Return the first beat whose tempo can be changed, or where it is if none is left."""
        now = self._deck.played()
        beat = scheduled.beat_from(now + AHEAD)
        return clock_of(scheduled.run).beat_at(now - scheduled.start) if beat is None else beat

    def _next_tempo(self, scheduled: ScheduledRun) -> float:
        """Return the tempo of that beat, after the changes that are asked for already."""
        return scheduled.run.tempo.tempo_at(self._next_beat(scheduled))

    def _beat_heard(self, scheduled: ScheduledRun) -> float:
        """Return the beat that is heard, or with which a paused set goes on."""
        heard = self._deck.heard()
        if isinstance(self.situation, Paused):
            heard = scheduled.time_at(self.situation.beat)
        return clock_of(scheduled.run).beat_at(heard - scheduled.start)

    def _thrown_from(
        self,
        scheduled: ScheduledRun,
        pattern: Pattern,
        first: int,
        planned: int | None,
        until: float | None = None,
    ) -> Thrown:
        """Return how much of a part has been thrown and caught.

        `first` is the part's first beat in the run. `planned` is its length in beats; None if it
        has no end. Catches count up to `until` on the deck's clock; up to now if None.
        """
        beat = self._beat_heard(scheduled)
        begun = max(math.floor(beat) + 1 - first, 0)
        beats = begun if planned is None else min(begun, planned)
        clock, last = clock_of(scheduled.run), first + beats
        seconds = clock.time_at(last) - clock.time_at(first)
        if until is not None:
            beat = min(clock.beat_at(until - scheduled.start), beat)
        caught = caught_by(pattern, beat - first, beats, self._request.dwell)
        return Thrown(beats, seconds, scheduled.run.tempo.tempo_at(max(last - 1, 0)), caught)
