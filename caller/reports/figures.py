"""The figures of a take: how each is worded, when it is beyond chance, and windows over time."""

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from statistics import NormalDist, median
from typing import Final

from throwcount.caller.terminal.text import can_print
from throwcount.engine.takes.drops import Drop
from throwcount.engine.takes.report import TakeReport
from throwcount.engine.takes.steadiness import KeptTempo

ONE_IN_TWENTY: Final = 0.05
"""The significance level: how often chance alone may make a difference that is reported."""

FEWEST_OF_A_KIND: Final = 8
"""A kind of throw with fewer catches is never reported as late or early."""

SURE_WITHIN_BEAT: Final = 0.8
"""The chance that a drop is within a beat of where it is reported, from which on it is sure."""

WORDS: Final = ((0.95, "almost surely"), (0.8, "very likely"), (0.6, "likely"), (0.4, "perhaps"))
"""The least confidence for each word."""

MOST_CONFIDENT: Final = 0.99
"""No chance is given as more than this: a recording never shows more."""

TENTHS_BELOW: Final = 0.00995
"""Shorter times, in seconds, are given to a tenth of a millisecond."""

PLUS_MINUS: Final = "±"


def beyond_chance(value: float, error: float, among: int = 1, freedom: float = math.inf) -> bool:
    """Return whether a difference is beyond chance, at a level of one in twenty.

    `value` is the difference and `error` its standard error. `among` is how many differences are
    tested (Sidak 1967, J. Am. Stat. Assoc. 62, 626-633), and `freedom` the degrees of freedom of
    the error (Student's t, by the expansion 26.7.5 of Abramowitz & Stegun 1964).
    """
    none_of_one = (1 - ONE_IN_TWENTY) ** (1 / max(among, 1))
    z = NormalDist().inv_cdf((1 + none_of_one) / 2)
    t = z + (z**3 + z) / (4 * freedom) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * freedom**2)
    return abs(value) > t * error


def confidence_text(confidence: float) -> str:
    """Return a confidence in words and as a number, such as "very likely right (86%)"."""
    word = next((word for least, word in WORDS if confidence >= least), "hardly")
    return f"{word} right ({percent(confidence)})"


def percent(chance: float) -> str:
    """Return a chance in percent, never as certainty."""
    if chance > MOST_CONFIDENT:
        return f"over {MOST_CONFIDENT:.0%}"
    return f"{chance:.0%}"


def moment_text(seconds: float) -> str:
    """Return a moment of a take to a tenth of a second, such as ``1:02.5``."""
    minutes, tenths = divmod(round(10 * seconds), 600)
    hours, minutes = divmod(minutes, 60)
    text = f"{tenths / 10:04.1f}"
    return f"{hours}:{minutes:02}:{text}" if hours else f"{minutes}:{text}"


def sure_of_beat(drop: Drop) -> bool:
    """Return whether a drop almost surely was within a beat of where it is reported."""
    return drop.within_beat >= SURE_WITHIN_BEAT


def drop_moment(drop: Drop) -> str:
    """Return when a drop was, such as "at 0:12.5", or "near 0:12.5" if that is not sure."""
    return f"{'at' if sure_of_beat(drop) else 'near'} {moment_text(drop.time)}"


def throw_text(drop: Drop) -> str:
    """Return the throw before a drop, such as "5 to the left"; "-" if unknown."""
    catch = drop.catch
    return "-" if catch is None else f"{catch.throw or catch.value} to the {catch.hand}"


def after_throw(drop: Drop, article: str) -> str:
    """Return what a drop followed, such as " after a 5 to the left", to end a sentence with.

    Empty if that is unknown; with "perhaps" if it is not sure.
    """
    if drop.catch is None:
        return ""
    perhaps = "" if sure_of_beat(drop) else ", perhaps"
    return f"{perhaps} after {article} {throw_text(drop)}"


def ms(seconds: float) -> str:
    """Return a time in milliseconds, such as "1.3 ms" or "13 ms"."""
    return f"{1000 * seconds:.1f} ms" if abs(seconds) < TENTHS_BELOW else f"{1000 * seconds:.0f} ms"


def lead_text(seconds: float) -> str:
    """Return a mean lateness, such as "13 ms early on the whole" for less than 0."""
    return f"{ms(abs(seconds))} {'early' if seconds < 0 else 'late'} on the whole"


def with_error(value: float, error: float) -> str:
    """Return a figure and its standard error, such as "180.2 ± 0.4"."""
    return f"{value:.1f} {_plus_minus()} {error:.1f}"


def signed(value: float, error: float) -> str:
    """Return a figure with its sign and its standard error, such as "+3.1 ± 0.4"."""
    return f"{value:+.1f} {_plus_minus()} {error:.1f}"


def give_or_take(seconds: float) -> str:
    """Return a standard error in milliseconds, such as "± 2.9 ms"."""
    return f"{_plus_minus()} {ms(seconds)}"


def _plus_minus() -> str:
    return PLUS_MINUS if can_print(PLUS_MINUS) else "+-"


def without_controls(name: str) -> str:
    """Return a name with a blank for each character that might move or colour the terminal."""
    return "".join(character if character.isprintable() else " " for character in name)


MEDIAN_ERROR_RATIO: Final = math.sqrt(math.pi / 2)
"""The standard error of a median over that of a mean, for normal values."""


SLOW_TIMING: Final = 2.0
"""How much wider a window's mean spreads than those of a juggler without slow changes: with it, of
90 simulated takes with correlated timing 6 seem off somewhere, without it 20."""

MOST_CORRELATED: Final = 0.9
"""The correlation of successive asynchronies that is allowed for, at most."""


@dataclass(frozen=True, slots=True)
class TakeWindow(KeptTempo):
    """The tempo in a window of a take, and how late its catches are."""

    late: float | None
    """The median lateness of the catches less that of the whole take; None if no pattern is known,
    since nobody is late against a cadence of their own."""
    late_uncertainty: float | None
    """Its standard error; None where `late` is."""


def take_windows(report: TakeReport, most: int | None = None) -> list[TakeWindow]:
    """Return the windows of a take with enough catches, merged until there are at most `most`."""
    paces = list(report.pace) if most is None else gathered(report.pace, most)
    heard = [(sound.time, sound.late) for sound in report.sounds if sound.late is not None]
    steady = report.steadiness
    if not report.known or steady is None or not heard:
        return [_window(pace) for pace in paces]
    times = [time for time, _ in heard]
    whole = median(late for _, late in heard)
    inside = [
        [late for _, late in heard[bisect_left(times, pace.start) : bisect_left(times, pace.end)]]
        for pace in paces
    ]
    sd = _sd_within([late for late in inside if late])
    return [
        _window(pace, median(late) - whole, MEDIAN_ERROR_RATIO * sd / math.sqrt(len(late)))
        if late
        else _window(pace)
        for pace, late in zip(paces, inside, strict=True)
    ]


def _sd_within(windows: Sequence[Sequence[float]]) -> float:
    """Return the sd about the windows' medians, which leaves out what comes and goes slowly.

    It is widened as for as many independent catches as these, which are correlated, are worth
    (Bayley & Hammersley, J. R. Stat. Soc. Suppl. 8 (1946) 184-197), and doubled, as timing is also
    correlated over longer than a window.
    """
    off = [[late - median(window) for late in window] for window in windows]
    square = sum(late * late for each in off for late in each)
    follow = sum(one * other for each in off for one, other in pairwise(each)) / (square or 1.0)
    follow = min(max(follow, 0.0), MOST_CORRELATED)
    number = sum(map(len, off)) - len(off)
    return SLOW_TIMING * math.sqrt(square / max(number, 1) * (1 + follow) / (1 - follow))


def _window(pace: KeptTempo, late: float | None = None, error: float | None = None) -> TakeWindow:
    return TakeWindow(**asdict(pace), late=late, late_uncertainty=error)


def gathered(pace: Sequence[KeptTempo], most: int) -> list[KeptTempo]:
    """Return the tempo in at most `most` windows of about equal length."""
    size = math.ceil(len(pace) / most)
    return [_together(pace[first : first + size]) for first in range(0, len(pace), size or 1)]


def _together(pace: Sequence[KeptTempo]) -> KeptTempo:
    heard = sum(each.heard for each in pace)

    def mean(values: Sequence[float]) -> float:
        return sum(value * each.heard for value, each in zip(values, pace, strict=True)) / heard

    asked = [each.asked for each in pace if each.asked is not None]
    return KeptTempo(
        start=pace[0].start,
        end=pace[-1].end,
        tempo=mean([each.tempo for each in pace]),
        uncertainty=math.hypot(*(each.uncertainty * each.heard for each in pace)) / heard,
        asked=mean(asked) if len(asked) == len(pace) else None,
        heard=heard,
    )
