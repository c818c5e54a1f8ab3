"""The plainest listener that could be right, for every refinement of the program to win against.

The offset is the peak of the cross-correlation of thuds and expected catches; each catch takes the
nearest thud; the spread is the median absolute deviation about a straight line; a drop is a row of
misses. Nothing is known of chances.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from throwcount.engine.takes.catches import Catch, sounds_of

Signal = npt.NDArray[np.float64]

STEP: Final = 0.005
SMOOTH: Final = 7
"""Steps over which the cross-correlation is smoothed."""

PLACED_WITHIN: Final = 0.3
"""Seconds by which catches on the take's clock may be off."""

NEAREST: Final = 0.1
"""Seconds to the nearest thud, at most, and never more than half the time between catches."""

NORMAL_MAD: Final = 1.4826
"""The standard deviation of a normal distribution over its median absolute deviation."""

ROW: Final = 5
"""Misses in a row that make a drop."""

BEYOND_CHANCE: Final = 2.0
"""Standard errors."""

LEAST_LATE: Final = 0.012
"""Seconds by which a throw is late, at least."""


@dataclass(frozen=True)
class Plain:
    """What it tells.

    Parameters
    ----------
    pairs
        The index of a catch and the time of its thud, for each that was heard.
    sd
        In seconds.
    drop
        When the first missing catch was due, in seconds of the take; None for no drop.
    drifts
        Whether the asynchronies have a slope beyond chance.
    late
        The beats of the cycle whose throws are late, and by how much, in seconds.
    """

    pairs: tuple[tuple[int, float], ...]
    sd: float
    drop: float | None
    drifts: bool
    late: tuple[tuple[int | None, float], ...]


def plain_report(
    thuds: Sequence[float], catches: Sequence[Catch], seconds: float, *, placed: bool
) -> Plain | None:
    """Return what the plainest listener tells of a take; None if nothing fits."""
    sounds = sounds_of([catch.time for catch in catches])
    due = np.array([catches[sound[0]].time for sound in sounds])
    times = np.asarray(thuds, dtype=np.float64)
    if len(times) < ROW or len(due) < ROW:
        return None
    due = due + _offset(times, due, PLACED_WITHIN if placed else None)
    there = np.flatnonzero((due > 0) & (due < seconds))
    if len(there) < ROW:
        return None
    near = min(NEAREST, 0.5 * float(np.median(np.diff(due))))
    closest = times[np.abs(times - due[there, np.newaxis]).argmin(axis=1)]
    late = closest - due[there]
    heard = np.abs(late - np.median(late[np.abs(late) < near])) < near
    if heard.sum() < ROW:
        return None
    when, off = due[there][heard], late[heard]
    slope, level = np.polyfit(when, off, 1)
    about = off - level - slope * when
    sd = NORMAL_MAD * float(np.median(np.abs(about - np.median(about))))
    error = sd / (np.std(when) * np.sqrt(len(when)) + 1e-9)
    beats = [catches[sounds[index][0]].cycle_beat for index in there[heard].tolist()]
    return Plain(
        pairs=tuple(
            (sounds[index][0], float(time))
            for index, time in zip(there[heard].tolist(), closest[heard], strict=True)
        ),
        sd=sd,
        drop=_first_row(due[there], heard),
        drifts=abs(float(slope)) > BEYOND_CHANCE * error,
        late=tuple(_late(beats, about, sd)),
    )


def _offset(times: Signal, due: Signal, within: float | None) -> float:
    """Return the peak of the cross-correlation of two sets of moments, in seconds."""
    most = within if within is not None else float(times[-1] + due[-1])
    edges = np.arange(-most, most + STEP, STEP)
    counts, _ = np.histogram((times - due[:, np.newaxis]).ravel(), edges)
    smooth = np.convolve(counts, np.hanning(SMOOTH + 2)[1:-1], "same")
    return float(edges[int(np.argmax(smooth))] + STEP / 2)


def _first_row(due: Signal, heard: npt.NDArray[np.bool_]) -> float | None:
    misses = np.convolve(~heard[int(np.argmax(heard)) :], np.ones(ROW), "valid")
    rows = np.flatnonzero(misses == ROW)
    return float(due[int(np.argmax(heard)) + rows[0]]) if len(rows) else None


def _late(beats: Sequence[int | None], about: Signal, sd: float) -> list[tuple[int | None, float]]:
    found = []
    for beat in sorted({beat for beat in beats if beat is not None}):
        own = np.array([other == beat for other in beats])
        if own.all() or own.sum() < ROW:
            continue
        by = float(np.median(about[own]) - np.median(about[~own]))
        if by > max(LEAST_LATE, 2 * BEYOND_CHANCE * sd / np.sqrt(own.sum())):
            found.append((beat, by))
    return found
