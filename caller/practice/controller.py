"""The controller of a practice: all that is the same for a pattern and for a routine.

A controller knows the deck's clock and nothing of devices, keys or screens: it gets what is asked
for, and sends commands. What is going on is kept as plain data, the situation.
"""

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import Final, TypeAlias

from throwcount.caller.log.records import Ending, Thrown
from throwcount.caller.options.request import Request
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.recorder import HEARD_DROP, Tally
from throwcount.caller.terminal.controls import (
    AGAIN,
    BACK,
    CLEAN,
    DROP,
    FASTER,
    NEXT,
    PAUSE,
    SLOWER,
    STOP,
    VOICE,
    Control,
)
from throwcount.engine.numbers import spoken
from throwcount.engine.patterns.flight import Room, highest_flying, tempo_warnings
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.practice.tempo_rules import Given, Mark
from throwcount.engine.timing.run import Part, PartPlace, Places, Run, clock_of
from throwcount.engine.timing.tempo import held_tempo
from throwcount.sounds.mixing.music_bed import Track
from throwcount.sounds.mixing.score import Balance
from throwcount.sounds.output.commands import AHEAD, End, Say, ScheduledRun, Silence, SpeakUp


@dataclass(frozen=True, slots=True)
class Playing:
    """A set is being played."""

    scheduled: ScheduledRun
    """The run that is played."""
    since: int | None = None
    """The beat from which the run is played; None where that is its beginning."""


@dataclass(frozen=True, slots=True)
class Resting:
    """A rest is going on."""

    until: float
    """When it is over, on the deck's clock."""


@dataclass(frozen=True, slots=True)
class Paused:
    """A set or a rest waits to go on."""

    scheduled: ScheduledRun | None = None
    """The run of the set; None for a rest."""
    beat: int = 0
    """The beat of the run with which the set goes on."""
    left: float = 0.0
    """Seconds that are left of the rest."""


@dataclass(frozen=True, slots=True)
class Closing:
    """The last words of the practice are being said."""

    until: float
    """When they are over, on the deck's clock."""


@dataclass(frozen=True, slots=True)
class Ended:
    """The practice is over as soon as the rest of the sound has been heard."""


Situation: TypeAlias = Playing | Resting | Paused | Closing | Ended


NUDGE: Final = 4.0
"""Beats a minute by which "faster" and "slower" change the tempo."""

PROGRESS_SECONDS: Final = 5.0
"""Seconds between two records of how far a set has come."""

STILL_SHOWN: Final = 8
"""Beats before a change of tempo that are still shown when it is asked for."""

NO_SET: Final = "Nothing has been thrown yet, so the mark is not kept."
THIS_SET: Final = "this set"

REST: Final = "rest"
TIMES_LEFT: Final = (60, 30, 10)
"""Seconds before the end of a rest at which the time left is said."""

SHORTEST_TOLD: Final = 5
"""The time left is said only if the rest is at least this many seconds longer."""


def rest_calls(seconds: float) -> list[tuple[float, str]]:
    """Return what is said in a rest of `seconds`, each with its seconds from the start."""
    left = [
        (seconds - each, f"{spoken(each)} seconds")
        for each in TIMES_LEFT
        if seconds >= each + SHORTEST_TOLD
    ]
    return [(0.0, REST), *left]


def slowest_allowed(run: Run, beat: float, tempo: float, room: Room) -> float:
    """Return the slowest tempo to change to at a beat of a run, for throws under the ceiling.

    `tempo` is that on this beat, in beats a minute. The result is 0 without a ceiling. As when a
    run is nudged, a single part keeps the new tempo, and several keep their proportions.
    """
    places, shares = Places(run), [0.0]
    place: PartPlace | None = places.at(beat)
    while place is not None and room.ceiling is not None:
        part = place.part
        if isinstance(part, Part):
            throw = highest_flying((throw for _, throw in part.pattern.throws()), room.dwell)
            needed = (throw and room.slowest_tempo(throw)) or 0.0
            since = max(beat, place.first, 0)
            slowest, _ = run.tempo.extremes(since, place.end or math.inf)
            shares.append(needed / (slowest if len(run.parts) > 1 else tempo))
        place = places.after(place)
    return tempo * max(shares)


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
    answer
        A sentence about what was asked for last, or about the tempo of a set that begins; empty
        where there is nothing to say.
    """

    def __init__(
        self, request: Request, session: LiveSession, balance: Balance, *, rests: bool
    ) -> None:
        self.situation: Situation = Ended()
        self.speaking = True
        self.tally = Tally()
        self.sets = self.throws = 0
        self.answer = ""
        self._request = request
        self._deck = session.player
        self._recorder = session.recorder
        self._balance = balance
        calls = rest_calls(request.rest) if rests and request.speak_rests else []
        self._words = frozenset(text for _, text in calls)
        self._noted = 0.0
        self._thrown_last = ""

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
        if isinstance(self.situation, Closing | Ended):
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

    def mark(self, mark: Mark) -> None:
        """Take a mark of the juggler for the set that is thrown, or was thrown last."""
        kept = self._take(Given(mark))
        self.answer = f"{mark.capitalize()} kept for {self._thrown_last}." if kept else NO_SET

    def hear_drop(self) -> None:
        """Take a drop that was heard as a mark for the same set."""
        self._take(HEARD_DROP)

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
                self.again()
            case Resting():
                self._rest(self._rest_seconds())
            case Closing() | Ended():
                self._end()

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
    def _thrown(self) -> Thrown | None:
        """Return how far the set has come; None where none is thrown."""

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

    def _rest(self, seconds: float) -> None:
        start = self._deck.soon()
        for moment, text in rest_calls(seconds) if self._request.speak_rests else ():
            self._deck.send(Say(text, start + moment, self._balance))
        self.situation = Resting(start + seconds)

    def _interrupt(self) -> None:
        self._close_set("stopped")
        self._deck.send(Silence())

    def _end(self) -> None:
        self._deck.send(End())
        self.situation = Ended()

    def _first_throw(self) -> None:
        """Let marks be for the set that is being thrown; until now they were for the one before."""
        self._thrown_last = self.place or THIS_SET
        self.tally.begin_set()
        self._recorder.first_throw()

    def _take(self, given: Given) -> bool:
        """Take a mark for the set that was thrown last; return whether there is one."""
        self._note_throws()
        if not self._thrown_last:
            return False
        self.tally.take(given)
        thrown = self._thrown()
        self._recorder.mark(given, thrown.beats - 1 if thrown and thrown.beats else None)
        return True

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
        self._recorder.end_set(thrown, status, unmarked)

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

    def _thrown_from(self, scheduled: ScheduledRun, first: int, planned: int | None) -> Thrown:
        """Return how much of a part has been thrown.

        `first` is the part's first beat in the run. `planned` is its length in beats; None if it
        has no end.
        """
        begun = max(math.floor(self._beat_heard(scheduled)) + 1 - first, 0)
        beats = begun if planned is None else min(begun, planned)
        clock, last = clock_of(scheduled.run), first + beats
        seconds = clock.time_at(last) - clock.time_at(first)
        return Thrown(beats, seconds, scheduled.run.tempo.tempo_at(max(last - 1, 0)))
