"""From the times of taps to the beats that were meant.

Each tap is some hundredths of a second early or late; now and then a beat is missed, or a key hit
twice. Where the music keeps one tempo, the least-squares line through all taps is far more exact
than any two of them, as errors average out. Where the tempo breathes, beats stay as tapped.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from throwcount.engine.numbers import counted

FEWEST: Final = 8
"""Taps that are needed for a tempo."""

DOUBLE: Final = 0.45
"""A tap that follows another within this share of the usual interval does not count."""

SHORTEST: Final = 0.1
"""Least seconds between two taps on two beats."""

CURVE_DEGREE: Final = 3
"""Degree of the polynomial that taps follow if the tempo moves a little."""

EXTRA_SPREADS: Final = 4.0
EXTRA_SECONDS: Final = 0.06
"""A tap is left out if it is off by more spreads and by more seconds than these."""

UNEVEN: Final = 0.12
"""Taps tell no tempo if their spread is more than this share of a beat."""

MOVES: Final = 3.0
MOVES_SHARE: Final = 0.01
"""The tempo moves if its change is more than `MOVES` standard errors, and more than `MOVES_SHARE`
of the tempo from the first tap to the last: the smallest change of a steady tempo that is noticed
is 1.5 % (Drake & Botte, Percept. Psychophys. 54 (1993) 277-286)."""

WANDER_SECONDS: Final = 0.08
"""The tempo also moves if the taps wander this many seconds from an even beat. A person's own
taps wander by less, each being off much as the one before (common in tapping)."""

TOGETHER: Final = 5
WANDER_SPREADS: Final = 5.0
"""Beats wander if the mean of `TOGETHER` in a row is off by `WANDER_SPREADS` times as much as
independent errors would make it."""

STANDARD_ERRORS: Final = 2.0
"""Standard errors to either side that contain the true value 19 times out of 20."""

NO_TEMPO: Final = "The taps tell no single tempo: they are uneven, or the music breathes."

Array: TypeAlias = npt.NDArray[np.float64]


class TapsError(ValueError):
    """The taps tell no beats; the text says why."""


@dataclass(frozen=True, slots=True)
class SteadyTaps:
    """Taps on music with one tempo."""

    tempo: float
    """Beats a minute."""
    tempo_error: float
    """Half of its 95 % confidence interval, in beats a minute."""
    first: float
    """The beat of the first tap that counts, in seconds."""
    spread: float
    """Standard deviation of the taps about the beats, in seconds."""
    beats: int
    """How many beats the taps go over."""
    doubles: tuple[float, ...]
    """Taps left out because they came right after another, in seconds."""
    extra: tuple[float, ...]
    """Taps left out because they were far from any beat, in seconds."""
    missed: int
    """Beats without a tap."""
    moves: bool
    """Whether the tempo seems to change over the taps, so that one tempo is not enough."""

    @property
    def sentences(self) -> tuple[str, ...]:
        """What to tell a person about them."""
        steadiness = (
            f"{self.beats} beats tapped at {self.tempo:.2f} a minute, give or take "
            f"{self.tempo_error:.2f}; the taps are within {2000 * self.spread:.0f} ms of them."
        )
        left_out = _left_out_text(self.doubles, self.extra, self.missed)
        return tuple(filter(None, (steadiness, left_out)))


@dataclass(frozen=True, slots=True)
class ListedTaps:
    """Taps on music whose tempo breathes, each taken for a beat."""

    beats: tuple[float, ...]
    """In seconds, in order; those without a tap are interpolated between their neighbours."""
    doubles: tuple[float, ...]
    """Taps left out because they came right after another, in seconds."""
    missed: int
    """Beats without a tap."""

    @property
    def sentences(self) -> tuple[str, ...]:
        """What to tell a person about them."""
        intervals = np.diff(self.beats)
        text = (
            f"{len(self.beats)} beats tapped, at {60 / intervals.max():.0f} to "
            f"{60 / intervals.min():.0f} a minute."
        )
        return tuple(filter(None, (text, _left_out_text(self.doubles, (), self.missed))))


def steady_taps(taps: Sequence[float]) -> SteadyTaps:
    """Return the one tempo and the first beat of taps, by least squares.

    `taps` are in seconds of the music, in order.

    Raises
    ------
    TapsError
        If there are fewer than `FEWEST`, or they are too uneven for a tempo.
    """
    kept, doubles = _without_doubles(taps)
    numbers = _numbered(kept)
    counted = _near_curve(numbers, kept)
    used, times = numbers[counted], kept[counted]
    usual = float(np.median(np.diff(kept)))
    if len(used) < FEWEST or _spread(used, times, CURVE_DEGREE) > UNEVEN * usual:
        raise TapsError(NO_TEMPO)
    slope, height = (float(each) for each in np.polyfit(used, times, 1))
    moves = _bends(used, times, slope) or wanders(times, WANDER_SECONDS, used)
    spread = _spread(used, times, CURVE_DEGREE if moves else 1)
    swing = float(np.sqrt(((used - used.mean()) ** 2).sum()))
    beats = int(used[-1] - used[0]) + 1
    return SteadyTaps(
        tempo=60.0 / slope,
        tempo_error=60.0 / slope**2 * STANDARD_ERRORS * spread / swing,
        first=height + slope * float(used[0]),
        spread=spread,
        beats=beats,
        doubles=doubles,
        extra=tuple(float(each) for each in kept[~counted]),
        missed=beats - len(np.unique(used)),
        moves=moves,
    )


def listed_taps(taps: Sequence[float]) -> ListedTaps:
    """Return every beat as it was tapped; `taps` are in seconds of the music, in order.

    Raises
    ------
    TapsError
        If there are fewer than `FEWEST`.
    """
    kept, doubles = _without_doubles(taps)
    numbers = _numbered(kept)
    every = np.arange(int(numbers[-1]) + 1)
    beats = np.interp(every, numbers, kept)
    return ListedTaps(
        tuple(round(float(beat), 4) for beat in beats), doubles, len(every) - len(kept)
    )


def wanders(times: Array, seconds: float, numbers: Array | None = None) -> bool:
    """Return whether `TOGETHER` beats in a row are off an even beat together, by over `seconds`.

    `times` are in seconds, in order, `TOGETHER` or more. `numbers` are those of the beats, one
    after another if None.
    """
    numbers = np.arange(len(times), dtype=np.float64) if numbers is None else numbers
    off = times - np.polynomial.Polynomial.fit(numbers, times, 1)(numbers)
    alone = np.sqrt((np.diff(off) ** 2).mean() / 2)
    together = np.abs(np.convolve(off, np.full(TOGETHER, 1 / TOGETHER), "valid")).max()
    return bool(together > max(seconds, WANDER_SPREADS * alone / np.sqrt(TOGETHER)))


def _without_doubles(taps: Sequence[float]) -> tuple[Array, tuple[float, ...]]:
    """Return the taps that count, and apart from them those that come right after another."""
    if len(taps) < FEWEST:
        raise TapsError(
            f"No tempo can be told from {counted(len(taps), 'tap')}: at least {FEWEST} are needed, "
            "and 30 are better."
        )
    intervals = np.diff(taps)
    # Intervals before a double are left out: where doubles are many they would halve the median.
    usual = np.median(intervals[intervals >= DOUBLE * np.quantile(intervals, 0.75)])
    kept, doubles = [float(taps[0])], []
    for tap in taps[1:]:
        if tap - kept[-1] < max(DOUBLE * usual, SHORTEST):
            doubles.append(float(tap))
        else:
            kept.append(float(tap))
    if len(kept) < FEWEST:
        raise TapsError(
            f"Without those right after another, {counted(len(kept), 'tap')} would be left."
        )
    return np.array(kept), tuple(doubles)


def _numbered(taps: Array) -> Array:
    """Return the number of each tap's beat, from 0, by the intervals around it."""
    intervals = np.diff(taps)
    usual = np.median(intervals)
    numbers, local = [0.0], float(usual)
    for interval in intervals:
        beats = max(1.0, float(np.rint(interval / local)))
        numbers.append(numbers[-1] + beats)
        local += 0.2 * (interval / beats - local)
    return np.array(numbers)


def _near_curve(numbers: Array, times: Array) -> npt.NDArray[np.bool_]:
    """Return which taps are near a polynomial through them, which lets the tempo move a little."""
    counted = np.ones(len(times), dtype=bool)
    for _ in range(4):
        curve = np.polynomial.Polynomial.fit(numbers[counted], times[counted], CURVE_DEGREE)
        off = times - curve(numbers)
        # The median absolute deviation as a standard deviation: extra taps hardly move it.
        spread = 1.4826 * np.median(np.abs(off - np.median(off)))
        counted = np.abs(off) <= max(EXTRA_SPREADS * spread, EXTRA_SECONDS)
        if counted.sum() < FEWEST:
            break
    return counted


def _spread(numbers: Array, times: Array, degree: int) -> float:
    """Return the standard deviation about the best-fitting polynomial of a degree."""
    curve = np.polynomial.Polynomial.fit(numbers, times, degree)
    off = times - curve(numbers)
    return float(np.sqrt((off**2).sum() / (len(times) - degree - 1)))


def _bends(numbers: Array, times: Array, slope: float) -> bool:
    """Return whether a parabola fits better than chance allows, and bends enough to matter."""
    middle = numbers - numbers.mean()
    basis = np.stack((np.ones(len(middle)), middle, middle**2), axis=1)
    fitted, residual, *_ = np.linalg.lstsq(basis, times, rcond=None)
    if len(times) <= FEWEST or not len(residual):
        return False
    variance = float(residual[0]) / (len(times) - 3) * np.linalg.inv(basis.T @ basis)[2, 2]
    bend = abs(float(fitted[2]))
    change = 2.0 * bend * float(np.ptp(numbers)) / slope
    return bool(bend > MOVES * np.sqrt(variance) and change > MOVES_SHARE)


def _left_out_text(doubles: Sequence[float], extra: Sequence[float], missed: int) -> str:
    texts = []
    if doubles:
        texts.append(f"{counted(len(doubles), 'tap')} right after another")
    if extra:
        texts.append(f"{len(extra)} far from any beat")
    left_out = f"Left out: {' and '.join(texts)}." if texts else ""
    without = f"{counted(missed, 'beat')} had no tap." if missed else ""
    return " ".join(filter(None, (left_out, without)))
