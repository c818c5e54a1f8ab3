"""What is going on in a practice, as plain data; what a rest says; how slow a tempo may be."""

import math
from dataclasses import dataclass
from typing import Final, Protocol, TypeAlias

from throwcount.caller.practice.recorder import Tally
from throwcount.caller.terminal.controls import Control
from throwcount.engine.numbers import spoken
from throwcount.engine.patterns.flight import Room, highest_flying
from throwcount.engine.timing.run import Part, PartPlace, Places, Run
from throwcount.sounds.output.commands import ScheduledRun


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
    """When it is over, on the deck's clock; infinite where it waits for a press."""


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
    last: bool = True
    """Whether nothing comes after them, as after a block of a session."""


@dataclass(frozen=True, slots=True)
class Ended:
    """The practice is over as soon as the rest of the sound has been heard."""


Situation: TypeAlias = Playing | Resting | Paused | Closing | Ended


def is_resting(situation: Situation) -> bool:
    """Return whether nothing is thrown or about to be."""
    match situation:
        case Resting() | Paused(None):
            return True
    return False


class Practice(Protocol):
    """What the practice loop leads through, one controller or several in a row."""

    @property
    def situation(self) -> Situation:
        """What is going on."""

    @property
    def tally(self) -> Tally:
        """The marks of the whole practice."""

    @property
    def answer(self) -> str:
        """A sentence about what was asked for last; empty where there is nothing to say."""

    @property
    def place(self) -> str:
        """Where in the practice this is, in words."""

    def begin(self) -> None:
        """Begin the practice."""

    def step(self) -> None:
        """Go on to what is next if something has come to its end. This is called often."""

    def ask(self, control: Control) -> None:
        """Do what a key or pedal asks for, if it means anything now."""

    def pause(self) -> None:
        """Pause what is going on."""

    def hear_drop(self, moment: float) -> None:
        """Take a drop that was heard; `moment` is on the deck's clock."""

    def stop(self) -> None:
        """End the practice now."""

    def keep(self) -> None:
        """Record how far it has come when it cannot go on."""

    def start_over(self) -> None:
        """Begin again what was going on, after the deck has restarted."""


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
