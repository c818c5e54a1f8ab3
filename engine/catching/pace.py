"""The tempo that was kept, over time."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from engine.catching.alignment import Aligned
from engine.catching.heard import Floats
from engine.catching.leanings import Cycle, throw_bias

SHORTEST: Final = 5.0
WINDOWS: Final = 60
"""A window lasts so many seconds, or this part of the take if that is longer."""

FEWEST_IN_A_WINDOW: Final = 6
"""Catches in a window that tell a tempo."""


@dataclass(frozen=True, slots=True)
class KeptTempo:
    """The tempo in a stretch of a take."""

    start: float
    """When it begins, in seconds of the take."""
    end: float
    """When it ends, in seconds of the take."""
    tempo: float
    """Beats a minute that were kept; catches a minute where no pattern is known."""
    uncertainty: float
    """Its standard error."""
    asked: float | None
    """Beats a minute that were asked for; None where no pattern is known."""
    heard: int
    """Catches that were heard."""


def kept_tempos(aligned: Aligned, cycle: Cycle) -> tuple[KeptTempo, ...]:
    """Return the tempo over time, stretch by stretch, where enough was heard.

    How late a throw of the cycle always is, is left out: a stretch that begins with one that is
    early and ends with one that is late would seem slow.
    """
    expected = aligned.expected
    if len(expected) < FEWEST_IN_A_WINDOW:
        return ()
    late = aligned.asynchrony - throw_bias(aligned, cycle)
    asked = _asked(aligned)
    length = max(SHORTEST, float(expected[-1] - expected[0]) / WINDOWS)
    edges = np.arange(expected[0], expected[-1] + length, length)
    found = []
    for start, end in pairwise(edges.tolist()):
        low, high = np.searchsorted(expected, [start, end])
        heard = ~np.isnan(late[low:high])
        if heard.sum() < FEWEST_IN_A_WINDOW:
            continue
        slope, error = _slope(expected[low:high][heard], late[low:high][heard])
        tempo = float(np.mean(asked[low:high])) / (1 + slope)
        found.append(
            KeptTempo(
                start=start,
                end=end,
                tempo=tempo,
                uncertainty=tempo * error,
                asked=float(np.mean(asked[low:high])) * aligned.rate if aligned.catches else None,
                heard=int(heard.sum()),
            )
        )
    return tuple(found)


def _asked(aligned: Aligned) -> Floats:
    """Return the tempo of each sound as it is expected, in beats a minute of the take."""
    if aligned.catches:
        tempos = [aligned.catches[sound[0]].tempo for sound in aligned.sounds]
        return np.array(tempos) / aligned.rate
    rate: Floats = 60 / np.gradient(aligned.expected)
    return rate


def _slope(when: Floats, late: Floats) -> tuple[float, float]:
    """Return how much later per second, and its standard error."""
    off = when - when.mean()
    width = float((off * off).sum())
    slope = float((off * late).sum()) / width
    left = late - late.mean() - slope * off
    return slope, float(np.sqrt((left * left).sum() / max(len(when) - 2, 1) / width))
