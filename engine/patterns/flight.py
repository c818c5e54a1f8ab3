"""Flight times and heights of throws, and the tempos that follow from heights.

By Shannon's theorem, (F + D) H = (V + D) N, with two hands that each hold an object for a share
r, the *dwell ratio*, of the two beats between their throws, a throw of n beats of tau seconds
flies F = (n - 2r) tau seconds. It rises h = g F^2 / 8 metres above the hands that throw and catch
it. Nothing flies if n <= 2r, nor does a 0 or a held 2. A dwell ratio of 2/3 is usual (Kalvan
1997).
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple, TypeAlias

from throwcount.engine.errors import FlightError, TempoError
from throwcount.engine.patterns.pattern import HELD_VALUE, Pattern, Throw

GRAVITY: Final = 9.80665
"""Standard acceleration of free fall, in metres a second squared."""

DWELL_RATIO: Final = 2 / 3

HANDS_HEIGHT: Final = 1.0
"""Height of the hands above the floor unless given, in metres."""

RISE_PER_BEAT: Final = 3 / 8
"""Metres that the highest throw rises at the default tempo, for each beat by which its value is
more than 2, the value that is held."""

TEMPO_STEP: Final = 5
"""The default tempo is a multiple of it, in beats a minute."""

SLOWEST_DEFAULT: Final = 150
FASTEST_DEFAULT: Final = 360
"""Beats a minute: three throws a second from each hand, about the most that hands keep up (common
practice)."""


@dataclass(frozen=True, slots=True)
class Room:
    """The room and the hands, as far as heights are concerned.

    Raises
    ------
    FlightError
        If the ceiling is not above the hands.
    """

    ceiling: float | None = None
    """Height of the ceiling above the floor, in metres; None if it does not matter."""
    hands: float = HANDS_HEIGHT
    """Height of the hands above the floor, in metres."""
    dwell: float = DWELL_RATIO
    """The dwell ratio."""

    def __post_init__(self) -> None:
        if self.ceiling is not None and not 0 <= self.hands < self.ceiling < math.inf:
            raise FlightError(
                f"A ceiling at {self.ceiling:g} m leaves no room above hands at {self.hands:g} m: "
                "both are heights above the floor, the ceiling the higher one."
            )

    def slowest_tempo(self, throw: Throw) -> float | None:
        """Return the tempo at which a throw just reaches the ceiling; None if it never does."""
        if self.ceiling is None:
            return None
        metres = self.ceiling - self.hands
        return tempo_for_height(throw.value, metres, self.dwell, crossed=throw.crossed)

    def height(self, throw: Throw, tempo: float) -> float | None:
        """Return how high a throw rises above the hands, in metres; None if nothing flies."""
        return height(throw.value, tempo, self.dwell, crossed=throw.crossed)


NO_CEILING: Final = Room()


def hand_rate(tempo: float) -> float:
    """Return how many throws a minute each hand makes, one on every second beat."""
    return _checked_tempo(tempo) / 2


def flight_beats(value: int, dwell: float = DWELL_RATIO, *, crossed: bool = False) -> float | None:
    """Return how long a throw is in the air, in beats.

    `value` is the throw value, 0 to 35. `dwell` is the dwell ratio, between 0 and 1. `crossed` says
    whether it is written with an x, so that a 2 is thrown and not held. The result is more than 0,
    or None if nothing flies.

    Raises
    ------
    FlightError
        If the dwell ratio is out of range.
    """
    if not 0 < dwell < 1:
        raise FlightError(
            f"A dwell ratio of {dwell:g} is out of range: it is the share of the time that a hand "
            "holds an object, between 0 and 1."
        )
    beats = value - 2 * dwell
    return beats if beats > 0 and not Throw(value, crossed).held else None


def flight_seconds(
    value: int, tempo: float, dwell: float = DWELL_RATIO, *, crossed: bool = False
) -> float | None:
    """Return how long a throw is in the air, in seconds; parameters and errors as in `height`."""
    beat = 60 / _checked_tempo(tempo)
    beats = flight_beats(value, dwell, crossed=crossed)
    return None if beats is None else beats * beat


def height(
    value: int,
    tempo: float,
    dwell: float = DWELL_RATIO,
    gravity: float = GRAVITY,
    *,
    crossed: bool = False,
) -> float | None:
    """Return how high a throw rises above the hands, in metres.

    `value`, `dwell` and `crossed` are as in `flight_beats`. `tempo` is in beats a minute, more than
    0. `gravity` is in metres a second squared. The result is None if nothing flies.

    Raises
    ------
    TempoError
        If the tempo is not more than 0.
    FlightError
        If the dwell ratio is out of range.
    """
    seconds = flight_seconds(value, tempo, dwell, crossed=crossed)
    return None if seconds is None else gravity * seconds**2 / 8


def tempo_for_height(
    value: int,
    metres: float,
    dwell: float = DWELL_RATIO,
    gravity: float = GRAVITY,
    *,
    crossed: bool = False,
) -> float | None:
    """Return the tempo at which a throw rises `metres` above the hands: the inverse of `height`.

    Raises
    ------
    FlightError
        If the height is not more than 0 or the dwell ratio is out of range.
    """
    if not 0 < metres < math.inf:
        raise FlightError(f"A throw cannot rise {metres:g} m: a height is more than 0 m.")
    beats = flight_beats(value, dwell, crossed=crossed)
    return None if beats is None else 60 * beats / math.sqrt(8 * metres / gravity)


def highest_flying(throws: Iterable[Throw], dwell: float = DWELL_RATIO) -> Throw | None:
    """Return the highest of the throws that fly; None if none does."""
    flying = (
        throw
        for throw in throws
        if flight_beats(throw.value, dwell, crossed=throw.crossed) is not None
    )
    return max(flying, key=lambda throw: throw.value, default=None)


def default_tempo(*patterns: Pattern, room: Room = NO_CEILING) -> int:
    """Return the tempo that is used when none is given, for patterns that share one.

    It is the slowest multiple of `TEMPO_STEP` beats a minute at which the highest throw, of value
    n, rises no more than (n - 2) `RISE_PER_BEAT` metres above the hands, held between
    `SLOWEST_DEFAULT` and `FASTEST_DEFAULT`. With a dwell ratio of 2/3, this gives heights that a
    person can aim and tempos that hands can keep: 0.36 m at 185 for a 3, 1.12 m at 230 for a 5,
    1.87 m at 275 for a 7, 2.61 m at 315 for a 9 (common practice: 0.3 to 0.7 m, 0.9 to 1.5 m, 1.4
    to 2.2 m, 2.1 to 3.0 m).

    The throw stays under a ceiling, as far as `FASTEST_DEFAULT` allows; where that is not enough,
    there is a warning (`tempo_warnings`). If nothing flies, the tempo is `SLOWEST_DEFAULT`.
    """
    throw = _highest(patterns, room)
    if throw is None:
        return SLOWEST_DEFAULT
    wanted, rise = 0.0, (throw.value - HELD_VALUE) * RISE_PER_BEAT
    if rise > 0:
        wanted = tempo_for_height(throw.value, rise, room.dwell, crossed=throw.crossed) or 0.0
    wanted = max(wanted, room.slowest_tempo(throw) or 0.0, SLOWEST_DEFAULT)
    return _in_steps(min(wanted, FASTEST_DEFAULT))


def default_tempo_reason(*patterns: Pattern, room: Room = NO_CEILING) -> str:
    """Return a sentence that gives the default tempo and the reason for it."""
    tempo = default_tempo(*patterns, room=room)
    throw = _highest(patterns, room)
    limits = {SLOWEST_DEFAULT: "the slowest by default", FASTEST_DEFAULT: "the fastest by default"}
    limit = f", {limits[tempo]}" if tempo in limits else ""
    if not limit and tempo > default_tempo(*patterns, room=Room(dwell=room.dwell)):
        limit = f", for the ceiling at {room.ceiling:g} m"
    metres = None if throw is None else room.height(throw, tempo)
    if metres is None:
        return f"{tempo:g} beats a minute{limit}, as nothing leaves the hands."
    return (
        f"{tempo:g} beats a minute{limit}: the highest throw, {throw}, then rises {metres:.2f} m "
        "above the hands."
    )


HIGH: Final = 3.0
"""Metres above the hands from which on a throw takes a hall and a reason (common practice)."""

HIGH_CAUTION: Final = (
    "A throw that high takes a hall, nothing overhead, nobody near, and a good reason."
)
EXACT: Final = 1 + 1e-9
"""A height is over a limit only by more than rounding makes of it."""

TempoWarningKind: TypeAlias = Literal["ceiling", "height", "hands"]


class TempoWarning(NamedTuple):
    """A tempo at which a throw goes too high, or the hands would have to be too quick."""

    kind: TempoWarningKind
    """Whether the highest throw reaches the ceiling, or rises more than `HIGH` metres; or whether
    the tempo is over `FASTEST_DEFAULT`."""
    sentence: str
    """The warning: the throw, its height, and the tempo that would do."""


def tempo_warnings(
    throws: Iterable[Throw],
    slowest: float,
    fastest: float,
    room: Room = NO_CEILING,
    beside: Iterable[Throw] = (),
) -> Iterator[TempoWarning]:
    """Yield what is wrong with throws at tempos between two limits, in beats a minute.

    Heights are judged at the slowest tempo, hands at the fastest. `beside` are other throws at the
    fastest tempo: where hands are too quick, the highest of all is told.
    """
    made = list(throws)
    throw = highest_flying(made, room.dwell)
    if throw is not None:
        yield from _too_high(throw, slowest, room)
    if fastest > FASTEST_DEFAULT * EXACT and any(each.value and not each.held for each in made):
        highest = highest_flying([*made, *beside], room.dwell)
        yield TempoWarning("hands", _too_fast(highest, fastest, room))


def _too_high(throw: Throw, tempo: float, room: Room) -> Iterator[TempoWarning]:
    """Yield a warning if a throw reaches the ceiling or, if not, rises more than `HIGH` metres."""
    metres = room.height(throw, tempo) or 0.0
    free = math.inf if room.ceiling is None else room.ceiling - room.hands
    if metres <= min(free, HIGH) * EXACT:
        return
    needed = tempo_for_height(throw.value, min(free, HIGH), room.dwell, crossed=throw.crossed) or 0
    enough = f"{math.ceil(needed / EXACT)} beats a minute"
    start = f"The {throw} rises {metres:.2f} m above the hands at {tempo:.4g} beats a minute"
    kind: TempoWarningKind = "height"
    if metres > free * EXACT:
        kind = "ceiling"
        start += (
            f", {metres + room.hands:.2f} m above the floor, and the ceiling is at "
            f"{room.ceiling:g} m"
        )
    if needed > FASTEST_DEFAULT:
        end = f"only {enough} would do, more than hands keep up (common practice)"
        if kind == "ceiling":
            lowest = room.hands + (room.height(throw, FASTEST_DEFAULT) or 0.0)
            end += f", or at {FASTEST_DEFAULT} a ceiling at {math.ceil(lowest * 100) / 100:.2f} m"
    else:
        end = f"{enough} would do"
    caution = f" {HIGH_CAUTION}" if metres > HIGH * EXACT else ""
    yield TempoWarning(kind, f"{start}: {end}.{caution}")


def _too_fast(throw: Throw | None, tempo: float, room: Room) -> str:
    """Return the sentence on a tempo over `FASTEST_DEFAULT`; `throw` is the highest that flies."""
    rate = hand_rate(tempo) / 60
    text = (
        f"At {tempo:.4g} beats a minute each hand's turn comes {rate:.1f} times a second; about 3 "
        "throws a second are the most that a hand keeps up (common practice)"
    )
    metres = None if throw is None else room.height(throw, FASTEST_DEFAULT)
    if metres is None:
        return f"{text}: {FASTEST_DEFAULT} would do."
    if room.ceiling is not None and metres > (room.ceiling - room.hands) * EXACT:
        return (
            f"{text}. At {FASTEST_DEFAULT} the highest throw, {throw}, rises {metres:.2f} m and "
            f"reaches the ceiling at {room.ceiling:g} m: choose lower throws, or another room."
        )
    return (
        f"{text}: {FASTEST_DEFAULT} would do, with the highest throw, {throw}, at {metres:.2f} m."
    )


def cautioned_once(sentences: Iterable[str]) -> Iterator[str]:
    """Yield sentences, of which only the first that holds `HIGH_CAUTION` keeps it."""
    said = False
    for sentence in sentences:
        yield sentence.removesuffix(f" {HIGH_CAUTION}") if said else sentence
        said = said or sentence.endswith(HIGH_CAUTION)


def _highest(patterns: Iterable[Pattern], room: Room) -> Throw | None:
    return highest_flying((throw for each in patterns for _, throw in each.throws()), room.dwell)


def _in_steps(tempo: float) -> int:
    """Return the next multiple of `TEMPO_STEP` that is not less than a tempo."""
    return math.ceil(tempo / TEMPO_STEP) * TEMPO_STEP


def _checked_tempo(tempo: float) -> float:
    if not 0 < tempo < math.inf:
        raise TempoError(
            f"A tempo of {tempo:g} beats a minute is impossible: it must be a finite number over 0."
        )
    return tempo
