"""A take stretch by stretch: the tempo that was kept, and how late the catches were in each."""

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final

from engine.catching.pace import KeptTempo
from engine.catching.report import TakeReport
from engine.catching.steadiness import Steadiness

OF_MEDIAN: Final = math.sqrt(math.pi / 2)
"""Standard error of a median over that of a mean, where values are normal."""


@dataclass(frozen=True, slots=True)
class TakeWindow:
    """A stretch of a take. Times are in seconds."""

    start: float
    """When it begins, on the clock of the take."""
    end: float
    """When it ends, on the clock of the take."""
    tempo: float
    """The tempo that was kept."""
    uncertainty: float
    """Its standard error."""
    asked: float | None
    """The tempo asked for; None where no pattern is known."""
    heard: int
    """Catches that were heard."""
    late: float | None
    """How late catches were in the middle, against the whole take; None where no pattern is known,
    since a cadence of one's own cannot be left."""
    late_uncertainty: float | None
    """Its standard error; None where `late` is."""


def take_windows(report: TakeReport, most: int | None = None) -> list[TakeWindow]:
    """Return the stretches of a take in which enough was heard.

    `most` is how many there may be; neighbours are put together.
    """
    paces = list(report.pace) if most is None else gathered(report.pace, most)
    heard = [(sound.time, sound.late) for sound in report.sounds if sound.late is not None]
    steady = report.steadiness
    if not report.known or steady is None or not heard:
        return [_stretch(pace) for pace in paces]
    times = [time for time, _ in heard]
    whole = median(late for _, late in heard)
    found = []
    for pace in paces:
        inside = heard[bisect_left(times, pace.start) : bisect_left(times, pace.end)]
        late = [late for _, late in inside]
        error = OF_MEDIAN * _quick_sd(steady) / math.sqrt(max(len(late), 1))
        found.append(_stretch(pace, median(late) - whole, error) if late else _stretch(pace))
    return found


def _quick_sd(steady: Steadiness) -> float:
    """Return the sd of the asynchronies without what comes and goes slowly."""
    return math.sqrt(max(steady.asynchrony_sd**2 - steady.wander_sd**2, 0.0))


def _stretch(pace: KeptTempo, late: float | None = None, error: float | None = None) -> TakeWindow:
    return TakeWindow(
        pace.start, pace.end, pace.tempo, pace.uncertainty, pace.asked, pace.heard, late, error
    )


def gathered(pace: Sequence[KeptTempo], most: int) -> list[KeptTempo]:
    """Return the tempo in no more than `most` stretches of about the same length."""
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
