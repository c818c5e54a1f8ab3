"""Music becomes placed sounds, put in order among those of the score.

It comes in chunks, each fading over into the next along half a cosine, so that their sum is the
music as it is. A deck that starts, silences or changes between chunks so never makes a click:
what goes is fading, and so is what comes. Chunks are cut on a grid of the music's own, and one
deck layer that takes over from another takes over the same chunks.
"""

import math
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import IO, Final

import numpy as np
import numpy.typing as npt

from sounds.music.ducking import Ducking
from sounds.music.music import SAMPLE, Track
from sounds.placing.gain import Gains
from sounds.placing.mixer import CHANNELS, Placement, falling
from sounds.placing.moments import frame_at
from sounds.voices.clip import Samples

CHUNK_SECONDS: Final = 0.25
SEAM_SECONDS: Final = 0.02
"""In which a chunk fades over into the next."""

ENTRY_SECONDS: Final = 0.5
"""In which music that began before the piece comes up at its beginning."""

EXIT_SECONDS: Final = 1.0
"""In which music that goes on after the piece fades away at its end."""


@dataclass(frozen=True, slots=True)
class Chunk:
    """Some of the music, at its place."""

    start: int
    """The frame of the piece that the first of `samples` falls on."""
    samples: Samples
    """The samples as they are recorded, but faded at both ends."""

    @property
    def end(self) -> int:
        """The frame where it is over."""
        return self.start + len(self.samples)


def with_music(
    placements: Iterable[Placement], track: Track, gains: Gains, frames: int | None
) -> Iterator[Placement]:
    """Put music under placed sounds, lower where somebody speaks.

    Parameters
    ----------
    placements
        In order of start. Looked at some two seconds ahead of the music, since a word lowers it
        before it begins.
    track
        The music, at the rate of the placements.
    gains
        What was laid out for it.
    frames
        Length of the piece, at whose end the music fades; None to let it end by itself.

    Yields
    ------
    Placement
        In order of start. Those of the music are neither words nor clicks; where no word is to be
        heard (`Placement.by_itself`) they are not ducked.
    """
    ducking = Ducking(track.music.rate)
    waiting: deque[Placement] = deque()
    sounds = iter(placements)
    known: float = -math.inf
    for chunk in _chunks(track, frames):
        while known < chunk.end + ducking.foresight:
            placement = next(sounds, None)
            known = math.inf if placement is None else placement.start
            if placement is not None:
                waiting.append(placement)
                if placement.spoken and placement.end > placement.start:
                    ducking.speak(placement.start, placement.end)
            yield from _before(chunk.start, waiting)
        yield from _before(chunk.start, waiting)
        ducking.forget(chunk.start)
        yield _placed(chunk, ducking.depth(chunk.start, chunk.end), gains)
    yield from waiting
    yield from sounds


def _before(frame: int, waiting: deque[Placement]) -> Iterator[Placement]:
    """Yield and take away those that start before a frame."""
    while waiting and waiting[0].start < frame:
        yield waiting.popleft()


def _placed(chunk: Chunk, depth: npt.NDArray[np.float32] | float, gains: Gains) -> Placement:
    if isinstance(depth, float):
        gain = gains.ducked_music if depth else gains.music
        return Placement(chunk.start, chunk.samples, gain, alone=gains.music)
    ratio = gains.ducked_music / gains.music
    slope = (gains.music * ratio**depth)[:, np.newaxis].astype(np.float32)
    return Placement(chunk.start, chunk.samples, slope, alone=gains.music)


def _chunks(track: Track, frames: int | None) -> Iterator[Chunk]:
    """Yield the music in order, from where it is first heard to its end or that of the piece."""
    music = track.music
    begins = frame_at(track.start, music.rate)
    step, seam = (round(each * music.rate) for each in (CHUNK_SECONDS, SEAM_SECONDS))
    last = -(-music.frames // step) - 1
    with music.path.open("rb") as file:
        for number in range(_first_chunk(track, begins, step), last + 1):
            start = begins + number * step
            if frames is not None and start >= frames:
                return
            samples = _read(file, number * step, step + seam)
            if number > 0:
                samples[:seam] *= falling(seam)[::-1, np.newaxis][: len(samples)]
            if number < last:
                samples[step:] *= falling(seam)[: len(samples) - step, np.newaxis]
            early = max(-start, 0)
            chunk = Chunk(start + early, samples[early:])
            _open_and_close(chunk, track, frames)
            yield chunk


def _first_chunk(track: Track, begins: int, step: int) -> int:
    """Return the chunk that sounds as the piece begins, or the first that starts late enough."""
    if track.since > 0.0:
        since = frame_at(track.since, track.music.rate)
        return max(-((begins - since) // step), 0)
    return max(-begins, 0) // step


def _open_and_close(chunk: Chunk, track: Track, frames: int | None) -> None:
    """Fade music in where a piece opens in the middle of it, and out where it outlasts a piece."""
    rate, begins = track.music.rate, frame_at(track.start, track.music.rate)
    entry, leave = (round(each * rate) for each in (ENTRY_SECONDS, EXIT_SECONDS))
    places = np.arange(chunk.start, chunk.end)
    if begins < 0 and chunk.start < entry:
        chunk.samples[:] *= _rising((places + 0.5) / entry)
    if frames is not None and begins + track.music.frames > frames and chunk.end > frames - leave:
        chunk.samples[:] *= _rising((frames - places - 0.5) / leave)


def _rising(progress: npt.NDArray[np.float64]) -> Samples:
    """Return factors that rise along half a cosine while `progress` goes from 0 to 1."""
    factors = 0.5 - 0.5 * np.cos(np.pi * np.clip(progress, 0.0, 1.0))
    return factors[:, np.newaxis].astype(np.float32)


def _read(file: IO[bytes], first: int, count: int) -> Samples:
    """Return `count` frames from frame `first` on, fewer at the end."""
    size = CHANNELS * SAMPLE.itemsize
    file.seek(first * size)
    samples = np.frombuffer(file.read(count * size), dtype=SAMPLE)
    return samples.reshape(-1, CHANNELS).astype(np.float32)
