"""Beats of any tempo, and of a tempo that may change, by a hidden Markov model.

A state is a beat that begins at a moment and lasts so long; the next one lasts nearly as long (the
bar pointer of Krebs, Böck & Widmer, An efficient state-space model for joint tempo and meter
tracking, Proc. ISMIR 2015, 72-78, without bars, and with whole beats as steps). What is heard
depends on the place within the beat: on it, half way, at a third, at a quarter, elsewhere. How
often onsets of which strength come there was counted in music with known beats
(`tests/benchmarks/bench_beats.py --fit`).

The most likely row of beats is found by the Viterbi algorithm, and the chance of a beat at each
moment by the forward-backward algorithm (Rabiner, A tutorial on hidden Markov models, Proc. IEEE 77
(1989) 257-286). Neighbouring frames say much the same, so their weight is lowered by `WEIGHT`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from throwcount.sounds.music.pulse import Array, Onsets

HOPS: Final = 5
"""Hops of the onset strength in a frame, which lasts about 10 ms."""

INTERVALS: Final = np.arange(28, 112)
"""Frames from beat to beat that are considered: 214 to 54 beats a minute."""

PARTS: Final = 12
"""Parts of a beat, the first around the beat itself."""

PLACES: Final = (0, 4, 4, 3, 2, 4, 1, 4, 2, 3, 4, 4)
"""The row of the tables for each part: beat, half, third, quarter, elsewhere."""

STRENGTHS: Final = (0.05, 0.3, 0.8, 1.5, 2.5, 4.0)
LOW_STRENGTHS: Final = (0.3, 1.5, 4.0)
"""Limits between the columns of the tables."""

TABLE: Final = np.array(
    (
        (-1.07, -0.23, 0.28, 0.71, 1.12, 1.32, 1.91),
        (-0.55, 0.02, 0.29, 0.68, 1.14, 1.28, 0.83),
        (0.08, -0.02, -0.09, -0.23, -0.45, -0.35, -0.70),
        (0.06, 0.17, 0.01, -0.06, -0.41, -0.58, -1.22),
        (0.12, -0.02, -0.09, -0.28, -0.62, -1.04, -1.48),
    )
)
LOW_TABLE: Final = np.array(
    (
        (-0.58, 0.00, 0.84, 1.68),
        (-0.08, -0.05, 0.21, 0.76),
        (0.05, -0.03, -0.19, -0.41),
        (0.03, -0.01, -0.03, -0.56),
        (0.06, 0.02, -0.22, -1.09),
    )
)
"""How much more often than elsewhere an onset of a strength comes at a place, in natural logs."""

CHANGE: Final = 80.0
"""How unlikely a change of tempo is: the chance falls by e with each 1/80 of it."""

USUAL: Final = 60.0 / 115.0
UNUSUAL: Final = 0.5
"""Of intervals in seconds, those near the usual one are likelier, by so much a second for each
octave, squared."""

WEIGHT: Final = 0.3
"""Weight of what is heard."""

AROUND: Final = 5
"""Frames on either side within which a beat counts as the same."""

BATCH: Final = 1000
"""Frames between two reports of progress."""


@dataclass(frozen=True, slots=True, eq=False)
class Tracked:
    """The most likely beats, and the chance of a beat at each moment."""

    beats: Array
    """In seconds, in order, to within a frame."""
    chances: Array
    """Shape (frames,): the chance that a beat begins at each frame."""
    start: float
    """Time of the first frame in seconds."""
    frame: float
    """Seconds from frame to frame."""

    def chance_at(self, times: Array) -> Array:
        """Return the chance, from 0 to 1, of a beat near each of `times`, in seconds."""
        total = np.concatenate(([0.0], np.cumsum(self.chances)))
        frames = np.rint((times - self.start) / self.frame).astype(np.intp)
        first = np.clip(frames - AROUND, 0, len(self.chances))
        last = np.clip(frames + AROUND + 1, 0, len(self.chances))
        return np.asarray(np.minimum(total[last] - total[first], 1.0))


@dataclass(frozen=True, slots=True, eq=False)
class Frames:
    """What is heard, frame by frame."""

    strength: npt.NDArray[np.intp]
    """The column of `TABLE` of the strongest onset in each frame."""
    low: npt.NDArray[np.intp]
    """The same of `LOW_TABLE`, for low onsets."""
    start: float
    """Time of the middle of the first frame, in seconds."""
    seconds: float
    """Seconds from frame to frame."""

    def fit(self, beats: Array) -> tuple[float, float]:
        """Return how well beats fit all onsets, and the low ones: in natural logs a second.

        `beats` are in seconds, in order, two at least.
        """
        times = self.start + self.seconds * np.arange(len(self.strength))
        within = (times >= beats[0]) & (times <= beats[-1])
        numbers = np.interp(times[within], beats, np.arange(len(beats)))
        places = np.array(PLACES)[np.rint(numbers % 1.0 * PARTS).astype(int) % PARTS]
        rows = TABLE[places, self.strength[within]], LOW_TABLE[places, self.low[within]]
        return tuple(float(each.mean()) / self.seconds for each in rows)  # type: ignore[return-value]


def frames_of(onsets: Onsets) -> Frames:
    """Return the onsets of music frame by frame."""
    columns = []
    for strength, limits in ((onsets.strength, STRENGTHS), (onsets.low, LOW_STRENGTHS)):
        whole = strength[: len(strength) // HOPS * HOPS].reshape(-1, HOPS)
        columns.append(np.searchsorted(limits, whole.max(axis=1)))
    middle = onsets.start + (HOPS - 1) / 2 * onsets.hop
    return Frames(columns[0], columns[1], middle, HOPS * onsets.hop)


def track(frames: Frames, done: Callable[[float], None] = lambda _share: None) -> Tracked:
    """Return the beats of music; `done` is told now and then which share is done.

    The music has to last longer than two of the longest beats.
    """
    heard, seconds = WEIGHT * _heard(frames), frames.seconds * INTERVALS
    heard -= UNUSUAL * seconds * np.log2(seconds / USUAL) ** 2
    rest = _rest_chances(heard, done)
    beats, chances = _forward(heard, rest, done)
    return Tracked(frames.start + frames.seconds * beats, chances, frames.start, frames.seconds)


def _heard(frames: Frames) -> Array:
    """Return how well each beat fits what is heard: shape (frames, intervals), in natural logs."""
    count, longest = len(frames.strength), int(INTERVALS[-1])
    scores = TABLE[:, frames.strength] + LOW_TABLE[:, frames.low]
    total = np.zeros((len(TABLE), count + 2 * longest + 1))
    total[:, longest + 1 : longest + 1 + count] = np.cumsum(scores, axis=1)
    total[:, longest + 1 + count :] = total[:, longest + count, np.newaxis]
    heard = np.zeros((count, len(INTERVALS)))
    edges = (np.arange(PARTS + 1) - 0.5) / PARTS
    for column, interval in enumerate(INTERVALS):
        limits = longest + np.rint(edges * interval).astype(int)
        for part, place in enumerate(PLACES):
            first, last = limits[part], limits[part + 1]
            heard[:, column] += total[place, last : last + count]
            heard[:, column] -= total[place, first : first + count]
    return heard


def _changes() -> Array:
    """Return the chance of each interval (column) after each other (row)."""
    ratios = INTERVALS / INTERVALS[:, np.newaxis]
    chances = np.exp(-CHANGE * np.abs(np.log(ratios)))
    return np.asarray(chances / chances.sum(axis=1, keepdims=True))


def _rest_chances(heard: Array, done: Callable[[float], None]) -> Array:
    """Return the log of the chance of all that is heard from each frame on, after each interval."""
    count, columns, changes = len(heard), np.arange(len(INTERVALS)), _changes()
    rest = np.zeros((count + int(INTERVALS[-1]) + 1, len(INTERVALS)))
    for frame in range(count - 1, -1, -1):
        after = heard[frame] + rest[frame + INTERVALS, columns]
        top = after.max()
        rest[frame] = top + np.log(changes @ np.exp(after - top) + 1e-300)
        if frame % BATCH == 0:
            done(0.5 - 0.5 * frame / count)
    return rest


def _forward(heard: Array, rest: Array, done: Callable[[float], None]) -> tuple[Array, Array]:
    """Return the frames of the most likely beats, and the chance of a beat at each frame."""
    count, longest, columns = len(heard), int(INTERVALS[-1]), np.arange(len(INTERVALS))
    changes, chances = _changes(), np.zeros(count)
    logs = np.log(changes.T + 1e-300)
    # The beats that end at a frame wait in rows that are used again, one for each frame ahead.
    summed = np.full((longest + 1, len(INTERVALS)), -np.inf)
    best = summed.copy()
    before = np.zeros((count, len(INTERVALS)), dtype=np.uint8)
    whole = -np.inf
    for frame in range(count):
        row, ends = frame % len(best), (frame + INTERVALS) % len(best)
        if frame < longest:  # the first beat is as likely at any frame of the first interval
            opening = np.where(frame < INTERVALS, 0.0, -np.inf)
            summed[row] = np.logaddexp(summed[row], opening)
            whole = np.logaddexp(whole, np.logaddexp.reduce(opening + rest[frame]))
            best[row] = np.maximum(best[row], opening)
        top = summed[row].max()
        now = top + np.log(np.exp(summed[row] - top) @ changes + 1e-300) + heard[frame]
        chances[frame] = np.exp(now + rest[frame + INTERVALS, columns] - whole).sum()
        ways = best[row] + logs
        before[frame] = ways.argmax(axis=1)
        summed[row] = best[row] = -np.inf
        summed[ends, columns] = now
        best[ends, columns] = ways[columns, before[frame]] + heard[frame]
        if frame % BATCH == 0:
            done(0.5 + 0.5 * frame / count)
    return _walked_back(np.roll(best, -(count % len(best)), axis=0), before), chances


def _walked_back(ends: Array, before: npt.NDArray[np.uint8]) -> Array:
    """Return the frames of the beats that lead to the best of those that end after the last frame.

    `ends` are their chances in natural logs, frame by frame from the one after the last.
    """
    over, column = np.unravel_index(int(ends.argmax()), ends.shape)
    frame, beats = len(before) + int(over) - int(INTERVALS[column]), []
    while frame >= 0:
        beats.append(frame)
        column = before[frame, column]
        if frame < INTERVALS[column]:
            break
        frame -= int(INTERVALS[column])
    return np.array(beats[::-1], dtype=np.float64)
