"""Music slower or faster at its own pitch, by the library Signalsmith Stretch.

Long music is stretched a segment at a time, so that it takes no more memory than short. Each
segment is placed by its own number, so no error adds up. Two segments overlap, and one fades over
into the next where they differ least.
"""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Final

import numpy as np

from throwcount.sounds.errors import MusicError
from throwcount.sounds.mixing.mixer import falling
from throwcount.sounds.samples import CHANNELS, Samples

if TYPE_CHECKING:
    from python_stretch.Signalsmith import Stretch

STRETCHES: Final = (0.5, 1.5)
"""The least and the largest share of its tempo that music can be stretched to."""

MISSING: Final = (
    "Music is stretched by python-stretch, which is not installed: `pip install '.[stretch]'`. "
    "Without --percent the music plays at its own tempo."
)

TRANSFORM_SECONDS: Final = 0.2
HOP_SECONDS: Final = 0.025
"""Longer, and closer together, than the library's own 0.12 and 0.03: chords down to 110 Hz keep
their pitch, and drums their place (`tests/benchmarks/bench_stretching.py`)."""

SEGMENT_SECONDS: Final = 20.0
OVERLAP_SECONDS: Final = 2.0
"""Of the music before it is stretched."""

EDGE_SECONDS: Final = 0.25
"""Stretched sound at either end of a segment that is not used, where the transforms lack sound."""

SEAM_SECONDS: Final = 0.04
"""Seconds in which a segment fades over into the next."""

LEAST_LIKENESS: Final = -0.95
"""Below it a seam is left a little softer, rather than a lot of noise made louder."""

TINY: Final = 1e-12
"""Keeps silence from being divided by."""


def stretched(blocks: Iterable[Samples], rate: int, share: float) -> Iterator[Samples]:
    """Return sound at a share of its tempo, block by block.

    Parameters
    ----------
    blocks
        Of shape (frames, 2), of any lengths.
    rate
        Sample rate in Hz.
    share
        Of the tempo, within `STRETCHES`; what is heard at t seconds comes at t / `share`.

    Raises
    ------
    MusicError
        If the library is not installed. This is known at once, before any block is taken.
    """
    return _joined(_segments(blocks, rate), _stretch(rate, share), rate, share)


def _stretch(rate: int, share: float) -> "Stretch":
    try:
        from python_stretch.Signalsmith import Stretch  # noqa: PLC0415 - an extra
    except ImportError as error:
        raise MusicError(MISSING) from error
    stretch = Stretch(0)  # the seed, as it randomises phases
    stretch.configure(CHANNELS, round(TRANSFORM_SECONDS * rate), round(HOP_SECONDS * rate))
    stretch.timeFactor = share
    return stretch


def _segments(blocks: Iterable[Samples], rate: int) -> Iterator[Samples]:
    """Yield segments that begin every `SEGMENT_SECONDS`; the last may be shorter or longer."""
    step, overlap = round(SEGMENT_SECONDS * rate), round(OVERLAP_SECONDS * rate)
    waiting: list[Samples] = []
    frames = 0
    for block in blocks:
        waiting.append(block)
        frames += len(block)
        while frames > step + 2 * overlap:
            sound = np.concatenate(waiting)
            yield sound[: step + overlap]
            waiting, frames = [sound[step:]], frames - step
    if frames:
        yield np.concatenate(waiting)


def _joined(
    segments: Iterable[Samples], stretch: "Stretch", rate: int, share: float
) -> Iterator[Samples]:
    """Yield the segments stretched, each from the seam with the one before to the next overlap."""
    step = round(SEGMENT_SECONDS * rate)
    held: Samples = np.zeros((0, CHANNELS), dtype=np.float32)
    for number, segment in enumerate(segments):
        sound: Samples = np.asarray(stretch.process(np.ascontiguousarray(segment.T))).T
        if number:
            sound = _over(held, sound, rate)
        length = round((number + 1) * step / share) - round(number * step / share)
        yield sound[:length]
        held = sound[length:]
    if len(held):
        yield held


def _over(before: Samples, after: Samples, rate: int) -> Samples:
    """Return `after` with its beginning taken from `before`, which begins at the same time."""
    edge, seam = round(EDGE_SECONDS * rate), round(SEAM_SECONDS * rate)
    common = min(len(before), len(after)) - edge
    differing = ((before[edge:common] - after[edge:common]) ** 2).sum(axis=1, dtype=np.float64)
    sums = np.concatenate((np.zeros(1), np.cumsum(differing)))
    first = edge + int(np.argmin(sums[seam:] - sums[:-seam]))
    meeting = _crossfade(before[first : first + seam], after[first : first + seam])
    return np.concatenate((before[:first], meeting, after[first + seam :]))


def _crossfade(before: Samples, after: Samples) -> Samples:
    """Return one sound fading over into another of the same length, at a constant level.

    What they have in common decides how loud their sum is (Fink, Holters & Zoelzer, Signal-matched
    power-complementary cross-fading and dry-wet mixing, DAFx 2016; cited from memory).
    """
    powers = np.vdot(before, before) * np.vdot(after, after)
    likeness = max(float(np.vdot(before, after)) / float(np.sqrt(powers) + TINY), LEAST_LIKENESS)
    falls = falling(len(before))[:, np.newaxis]
    rises = falls[::-1]
    level = np.sqrt(falls**2 + rises**2 + 2 * likeness * falls * rises)
    return np.asarray((before * falls + after * rises) / level, dtype=np.float32)
