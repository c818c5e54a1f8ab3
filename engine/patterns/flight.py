"""Flight times and heights of throws, and the tempos that follow from heights.

By Shannon's theorem, (F + D) H = (V + D) N, with two hands that each hold an object for a share
r, the *dwell ratio*, of the two beats between their throws, a throw of n beats of tau seconds
flies F = (n - 2r) tau seconds. It rises h = g F^2 / 8 metres above the hands that throw and catch
it. Nothing flies if n <= 2r, nor does a 0 or a held 2. A dwell ratio of 2/3 is usual (Kalvan
1997).
"""

import math
from typing import Final

from throwcount.engine.errors import FlightError, TempoError
from throwcount.engine.patterns.pattern import Pattern, Throw

GRAVITY: Final = 9.80665
"""Standard acceleration of free fall, in metres a second squared."""

DWELL_RATIO: Final = 2 / 3

HANDS_HEIGHT: Final = 1.0
"""Height of the hands above the floor unless given, in metres."""

DEFAULT_HEIGHT: Final = 1.0
"""Height of the highest throw above the hands at the default tempo, in metres."""

SLOWEST_DEFAULT: Final = 150
FASTEST_DEFAULT: Final = 240


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


def slowest_tempo(
    value: int,
    ceiling: float,
    hands: float = HANDS_HEIGHT,
    dwell: float = DWELL_RATIO,
    *,
    crossed: bool = False,
) -> float | None:
    """Return the tempo at which a throw just reaches the ceiling.

    `value`, `dwell` and `crossed` are as in `flight_beats`. `ceiling` and `hands` are heights above
    the floor, in metres.

    Raises
    ------
    FlightError
        If the ceiling is not above the hands or the dwell ratio is out of range.
    """
    if not 0 <= hands < ceiling < math.inf:
        raise FlightError(
            f"A ceiling at {ceiling:g} m leaves no room above hands at {hands:g} m: both are "
            "heights above the floor, the ceiling the higher one."
        )
    return tempo_for_height(value, ceiling - hands, dwell, crossed=crossed)


def default_tempo(pattern: Pattern) -> int:
    """Return the tempo that is used when none is given, in whole beats a minute.

    The highest throw then rises to about `DEFAULT_HEIGHT`, within the limits `SLOWEST_DEFAULT`
    and `FASTEST_DEFAULT`; if nothing flies it is the slowest.
    """
    throw = _highest_flying(pattern)
    wanted = tempo_for_height(throw.value, DEFAULT_HEIGHT, crossed=throw.crossed) if throw else None
    return min(max(round(wanted or 0), SLOWEST_DEFAULT), FASTEST_DEFAULT)


def default_tempo_reason(pattern: Pattern) -> str:
    """Return a sentence that gives the default tempo and the reason for it."""
    tempo = default_tempo(pattern)
    limits = {SLOWEST_DEFAULT: "the slowest by default", FASTEST_DEFAULT: "the fastest by default"}
    limit = f", {limits[tempo]}" if tempo in limits else ""
    throw = _highest_flying(pattern)
    metres = height(throw.value, tempo, crossed=throw.crossed) if throw else None
    if metres is None:
        return f"{tempo:g} beats a minute{limit}, as nothing leaves the hands."
    return (
        f"{tempo:g} beats a minute{limit}: the highest throw, {throw}, then rises {metres:.2f} m "
        "above the hands."
    )


def _highest_flying(pattern: Pattern) -> Throw | None:
    flying = (
        throw
        for _, throw in pattern.throws()
        if flight_beats(throw.value, crossed=throw.crossed) is not None
    )
    return max(flying, key=lambda throw: throw.value, default=None)


def _checked_tempo(tempo: float) -> float:
    if not 0 < tempo < math.inf:
        raise TempoError(
            f"A tempo of {tempo:g} beats a minute is impossible: it must be a finite number over 0."
        )
    return tempo
