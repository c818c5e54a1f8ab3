"""Difficulty: one number for what hands must do at a tempo, and the reasons for it.

How long a throw flies, and how often a hand throws, follows from the pattern and the tempo by
Shannon's theorem, with the usual dwell ratio of 2/3 (Kalvan 1997): published. What makes a pattern
harder is common practice among jugglers: more objects, a higher highest throw, wide mixtures of
heights, several high throws in a row, fewer rests, a start outside the ground state, throws that
both hands must know, several objects from one hand, and throws that come sooner than a hand can
turn round.

The weights follow by reasoning from these statements; the reason stands beside each. While they
were set, a first table of pairs of patterns was at hand, which coaches would order the same way; a
second one was only measured at the end (`tests/engine/hands/test_order.py`). Nothing was measured
on jugglers. The weights add up to *points*, where one object more, thrown as high and as often, is
one point. `Difficulty.number` puts points on a scale that can be read: the plain pattern of N
objects at its usual tempo has the number N, so a pattern with 3.6 lies between the plain 3 and the
plain 4.
"""

import math
from bisect import bisect_right
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Final

from throwcount.engine.hands.reasons import reasons
from throwcount.engine.hands.work import (
    MOST_RATE,
    HandTurns,
    Work,
    work_of_pattern,
    work_of_turns,
)
from throwcount.engine.patterns.flight import GRAVITY, HIGH, default_tempo, hand_rate
from throwcount.engine.patterns.pattern import HIGHEST_VALUE, Pattern, Throw

OBJECT: Final = 1.0
"""Points for each object: the unit."""

KEPT: Final = 0.25
"""Points for each object that a hand holds all the time, as in 42: it only takes up room."""

HARDEST: Final = 2 / 3
"""Weight of the hardest moment; the whole cycle has the rest. Coaches order by what the hands must
do and not by the average, so it is more than half; rests make a pattern easier, so it is not all.
"""

FLIGHT: Final = 2.5
"""Points for each second in the air. The hardest moment is the highest throw, and the whole cycle
the root mean square over all turns, so that many high throws are harder and rests easier. From the
plain 4 to the plain 5, the higher and quicker throws make three quarters of a point, a little less
than the object itself: coaches name objects first, and then heights."""

PACE: Final = 1.3
"""Points for each throw a second from the busier hand. The hardest moment is where its throws
follow most closely, and the whole cycle counts all of its turns.

A faster tempo makes throws lower and hands busier. People settle where both together are easiest,
so the two weights belong together: at 1.3 points against 2.5, a plain 3 is easiest at 152 beats a
minute, a 5 at 225, a 7 at 280 and a 9 at 326. All are usual tempos (common practice: 150 to 200,
200 to 240, 250 to 310, 295 to 345). A run of five objects that was measured on film had 262 (Voss
2012), where a plain 5 is nearly as easy as at 225."""

MIXTURE: Final = 1.0
"""Points for each second by which flights differ: the standard deviation, where a hold counts as no
flight, and an empty hand does not count. It is half a second in 97531 and three quarters in 91, so
that even wide mixtures weigh less than an object."""

ACT: Final = 0.08
"""Points for each act that a hand must know beyond its first, for each hand. Where the hands swap,
both must know all; where they keep their sides, each knows its own, which is easier to begin. All
five throws of 97531 in both hands weigh two thirds of an object: the throws are told, objects have
to be caught."""

HIGH_IN_A_ROW: Final = 0.15
"""Points for each high throw that directly follows another: about as much as an act that both hands
must know. Six in a row, as in 7777770, weigh less than an object."""

ONE_IN_A_ROW: Final = 1.0
"""Points for each 1 that directly follows another. A single 1 is an easy hand-across; two in a row
are not for learners, so each weighs as much as an object."""

ENTRY: Final = 0.25
"""Points for each throw that it takes from the plain pattern into this one: it has to be known as
well as an act, by the right hand at the right time."""

AT_ONCE: Final = 1.0
"""Points for each further object in a hand that throws, at the hardest moment and over the whole
cycle. To grip two and let go of them well, on every turn, is like one more object."""

TOGETHER: Final = 0.15
"""Points if both hands throw at once: two objects to aim at one moment, as little as two high
throws in a row."""

UNLIKE: Final = 0.25
"""Points if they do not throw the same: each hand has to do its own, as much as a way in."""

MEETING: Final = 0.5
"""Points for each throw that crosses its like in the other hand, so that two objects must be kept
from meeting."""

HURRIED: Final = 4.0
"""Points for each throw a second beyond `MOST_RATE`, as hands cannot do much more."""

TOO_HIGH: Final = 1.0
"""Points for each metre above `HIGH`."""

LOWEST_PLAIN: Final = 3
"""Objects of the easiest plain pattern in which something flies."""


@dataclass(frozen=True)
class Difficulty:
    """How hard a row of throws is at a tempo, in points for each thing that makes it so."""

    tempo: float
    """The tempo, in beats a minute."""
    work: Work
    """What the hands do."""
    objects: float
    """Points for the number of objects."""
    flight: float
    """Points for the time in the air."""
    pace: float
    """Points for the throws a second."""
    mixture: float
    """Points for different heights."""
    acts: float
    """Points for what each hand must know."""
    rows: float
    """Points for high throws, and for 1s, in a row."""
    entry: float
    """Points for the way in from the plain pattern."""
    at_once: float
    """Points for several objects in a hand."""
    together: float
    """Points for hands that throw at once, and for objects that cross at the same height."""
    limits: float
    """Points for hurried hands, and for throws that are too high for a usual room."""

    @cached_property
    def points(self) -> float:
        """The sum of all parts, 0 or more."""
        return (
            self.objects
            + self.flight
            + self.pace
            + self.mixture
            + self.acts
            + self.rows
            + self.entry
            + self.at_once
            + self.together
            + self.limits
        )

    @cached_property
    def number(self) -> float:
        """The difficulty: N for the plain pattern of N objects, from 3 on, at its usual tempo."""
        return _on_plain_scale(self.points)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Sentences about what makes it hard or easy, with the numbers in them."""
        return reasons(self.work, self.tempo)


def difficulty(pattern: Pattern, tempo: float | None = None) -> Difficulty:
    """Return how hard a pattern that can be thrown is, round and round.

    `tempo` is in beats a minute; None is the pattern's usual tempo. The result is the same from
    whatever beat the pattern begins, and for its mirror image.

    Raises
    ------
    TempoError
        If the tempo is not a finite number over 0.
    """
    return _rated(work_of_pattern(pattern), tempo)


def difficulty_of_throws(turns: HandTurns, objects: int, tempo: float | None = None) -> Difficulty:
    """Return how hard a row of throws is that is made once, such as a bridge.

    `turns` are the turns of both hands in the order of their beats, as `hand_turns` gives them;
    there may be none. `objects` is how many are in the hands and in the air, so it is what a state
    adds up to. `tempo` is in beats a minute; None is the usual tempo of the highest throw. A way in
    counts nothing.

    Raises
    ------
    TempoError
        If the tempo is not a finite number over 0.
    """
    return _rated(work_of_turns(turns, objects), tempo)


def _rated(work: Work, tempo: float | None) -> Difficulty:
    pace = _usual_tempo(work.highest) if tempo is None else tempo
    beat = 30 / hand_rate(pace)
    longest = max(work.flights, default=0.0) * beat
    squares = sum([flight * flight for flight in work.flights]) / max(work.turns, 1)
    closest, overall = work.closest_rate(pace), work.mean_rate(pace)
    return Difficulty(
        tempo=pace,
        work=work,
        objects=OBJECT * (work.objects - work.kept) + KEPT * work.kept,
        flight=FLIGHT * _weighed(longest, beat * math.sqrt(squares)),
        pace=PACE * _weighed(closest, overall),
        mixture=MIXTURE * beat * _deviation(work.flights),
        acts=ACT * sum([max(len(hand.acts) - 1, 0) for hand in work.hands]),
        rows=HIGH_IN_A_ROW * max(work.high_in_a_row - 1, 0)
        + ONE_IN_A_ROW * max(work.ones_in_a_row - 1, 0),
        entry=ENTRY * work.entry,
        at_once=AT_ONCE * _weighed(max(work.at_once - 1, 0), work.further / max(work.turns, 1)),
        together=TOGETHER * work.together + UNLIKE * work.unlike + MEETING * work.meeting,
        limits=HURRIED * max(closest - MOST_RATE, 0)
        + TOO_HIGH * max(GRAVITY * longest**2 / 8 - HIGH, 0),
    )


def _weighed(hardest: float, whole: float) -> float:
    return HARDEST * hardest + (1 - HARDEST) * whole


def _deviation(flights: tuple[float, ...]) -> float:
    """Return the standard deviation, 0 of no flights."""
    if not flights:
        return 0.0
    mean = sum(flights) / len(flights)
    return math.sqrt(sum([(flight - mean) ** 2 for flight in flights]) / len(flights))


@cache
def _usual_tempo(highest: Throw | None) -> int:
    """Return the default tempo, which only the highest throw decides; None if nothing flies."""
    return default_tempo(Pattern.of("async", (((highest,) if highest else (),),)))


def _on_plain_scale(points: float) -> float:
    """Return points on the scale of plain patterns: 0 for none, in proportion between them."""
    known = _plain_points()
    above = min(max(bisect_right(known, points), 1), len(known) - 1)
    low, high = known[above - 1], known[above]
    step = LOWEST_PLAIN if above == 1 else 1
    return step * (points - low) / (high - low) + (LOWEST_PLAIN + above - 2 if above > 1 else 0)


@cache
def _plain_points() -> tuple[float, ...]:
    """Return no points, and then the points of each plain pattern at its usual tempo."""
    plain = range(LOWEST_PLAIN, HIGHEST_VALUE + 1)
    patterns = (Pattern.of("async", (((Throw(value),),),)) for value in plain)
    return 0.0, *(difficulty(pattern).points for pattern in patterns)
