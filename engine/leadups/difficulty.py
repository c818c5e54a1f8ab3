"""How hard a pattern is: a model that puts patterns in an order, in points.

The points are a model of our own and nothing that was measured. What enters it is common
practice among jugglers: more objects, higher throws, more kinds of throws to tell apart, a
pattern that cannot be entered from the plain one, a longer sequence to keep in mind, several
objects from one hand, and both hands at once each make a pattern harder. How much each weighs
is a choice, made so that it agrees with common opinion on well-known patterns and so that two
rules hold for every pattern without exception:

- taking one object out and leaving its beats empty makes a pattern easier;
- so does lowering one throw by the period, which takes one object out as well.

Both follow from the weights: an object weighs more than the kind of throw, the memory and the
excitement that losing it can bring. A model cannot know the juggler: practice, props, tempo and
the hand that is weaker change what is hard.
"""

import math
from dataclasses import astuple, dataclass
from typing import Final

from engine.patterns.flight import flight_beats
from engine.patterns.orbits import true_period
from engine.patterns.pattern import Pattern, Throw
from engine.patterns.states import visits_ground

OBJECT_POINTS: Final = 2.0
"""For each object."""

HIGHEST_POINTS: Final = 0.5
"""For each beat that the highest throw is in the air: it wants the most accuracy."""

FLIGHT_POINTS: Final = 1.0
"""For each beat in the air of the root mean square flight: many high throws leave no rest."""

KIND_POINTS: Final = 0.5
"""For each kind of throw after the first."""

MEMORY_POINTS: Final = 0.5
"""Approached by long sequences: n turns weigh 1 - 1/n of it."""

EXCITED_POINTS: Final = 0.5
"""If the pattern never passes the ground state."""

MULTIPLEX_POINTS: Final = 1.0
"""For each object after the first in the largest multiplex."""

PAIR_POINTS: Final = 0.25
"""If both hands throw at once."""


@dataclass(frozen=True, slots=True)
class Difficulty:
    """The points of a pattern, one part for each thing that makes it hard; all 0 or more."""

    objects: float
    """Points for the number of objects."""
    highest: float
    """Points for the flight of the highest throw."""
    flight: float
    """Points for all flights together."""
    variety: float
    """Points for the different kinds of throws; empty hands and held objects are none, and a throw
    that crosses is of another kind than one of the same value that does not."""
    memory: float
    """Points for the length of the sequence until it repeats."""
    excitement: float
    """Points for not passing the ground state."""
    multiplex: float
    """Points for throwing several objects at once from one hand."""
    pairs: float
    """Points for throwing from both hands at once."""

    @property
    def total(self) -> float:
        """The sum of all parts; the order of patterns is the order of this number."""
        return math.fsum(astuple(self))


def difficulty(pattern: Pattern) -> Difficulty:
    """Return how hard a pattern is; it does not depend on the beat that it begins on.

    The pattern is one that can be thrown.
    """
    throws = [throw for _, throw in pattern.throws()]
    flights = [_flight(throw) for throw in throws]
    squares = math.fsum(flight**2 for flight in flights)
    kinds = {throw for throw in throws if throw.value and not throw.held}
    at_once = max(len(thrown) for turn in pattern.turns for thrown in turn)
    turns = true_period(pattern) // pattern.beats_per_turn
    return Difficulty(
        objects=OBJECT_POINTS * pattern.objects,
        highest=HIGHEST_POINTS * max(flights, default=0),
        flight=FLIGHT_POINTS * math.sqrt(squares / pattern.period),
        variety=KIND_POINTS * max(len(kinds) - 1, 0),
        memory=MEMORY_POINTS * (1 - 1 / turns),
        excitement=0 if visits_ground(pattern) else EXCITED_POINTS,
        multiplex=MULTIPLEX_POINTS * max(at_once - 1, 0),
        pairs=PAIR_POINTS if pattern.kind == "sync" else 0,
    )


def _flight(throw: Throw) -> float:
    return flight_beats(throw.value, crossed=throw.crossed) or 0
