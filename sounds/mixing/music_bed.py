"""Music under a piece: decoded samples in chunks, placed among the other sounds, lower under words.

Each chunk fades over into the next along half a cosine, so that their sum is the music as it is.
So a deck that starts, silences or changes between chunks never makes a click: what ends is fading
out, and what begins is fading in. Chunks are cut on a grid of the music's own, and a mix layer that
takes over from another takes over the same chunks.

Music is ducked: it falls before a word begins and rises again after it. Words less than `BRIDGED`
seconds apart are one stretch, through which the music stays low. So with a count on every beat it
does not pump between the words.
"""

import math
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Final

import numpy as np
import numpy.typing as npt

from throwcount.sounds.mixing.mixer import Gains, MusicLevel, Placement, falling
from throwcount.sounds.samples import CHANNELS, Samples, frame_at

USUAL_LEVEL: Final = -23.0
"""Integrated loudness of music without words, in LKFS: that of broadcast programmes (EBU R 128). It
is a little softer than a count, and well above clicks alone.

A count by the built-in voice has an integrated loudness of -21 to -18 LKFS (at 100 to 240 beats a
minute). Under words music is `USUAL_DUCK` lower, at -31 LKFS, hence at least 10 LU below them,
which is what listeners want of speech over music (Torcoli et al., Preferred levels for background
ducking to produce esthetically pleasing audio for TV with clear speech, J. Audio Eng. Soc. 67
(2019) 1003-1011).
"""

USUAL_DUCK: Final = 8.0
"""How much lower music is under words, in dB."""

SAMPLE: Final = np.dtype("<f4")
"""The type of one sample in a decoded file."""


@dataclass(frozen=True, slots=True)
class Music:
    """Decoded music."""

    path: Path
    """A file of bare samples of type `SAMPLE`, left and right in turn."""
    rate: int
    """Sample rate, in Hz."""
    frames: int
    """Length in frames, at least 1."""
    peak: float
    """True peak, linear; above 1 where lossy coding has overshot."""
    loudness: float
    """Integrated loudness in LKFS (ITU-R BS.1770) as heard from both sides; -inf if nothing exceeds
    the absolute gate of -70 LKFS."""
    warning: str = ""
    """A sentence on what is damaged; empty if nothing is."""

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return self.frames / self.rate


@dataclass(frozen=True, slots=True)
class Track:
    """Music with its place under a piece."""

    music: Music
    """What is heard."""
    start: float = 0.0
    """When its first frame falls, in seconds of the piece; negative if the piece opens in the
    middle of the music."""
    level: float = 0.0
    """Its level, in dB against the usual."""
    duck: float = USUAL_DUCK
    """How much lower it is under words, in dB, at least 0."""
    since: float = 0.0
    """Seconds of the piece before which none of it is heard."""

    def later(self, seconds: float) -> "Track":
        """Return the track with the music so many seconds later in the piece."""
        return replace(self, start=self.start + seconds)

    @property
    def wanted(self) -> MusicLevel:
        """How loud the music is to be; all but silent music keeps its recorded level."""
        audible = self.music.loudness > -np.inf
        change = USUAL_LEVEL - self.music.loudness if audible else 0.0
        return MusicLevel(self.music.peak, change + self.level, self.duck)


ATTACK: Final = 0.15
"""Seconds in which music falls before a word begins: gentle, but not noticeably early."""

RELEASE: Final = 0.6
"""Seconds in which music rises again after a word."""

BRIDGED: Final = 2.0
"""Seconds between words through which music stays low: more than from one word to the next of a
count on every beat at 40 beats a minute."""


class Ducking:
    """How far music is ducked, given the words one by one; `rate` is the sample rate in Hz."""

    def __init__(self, rate: int) -> None:
        self._attack = round(ATTACK * rate)
        self._release = round(RELEASE * rate)
        self._bridged = round(BRIDGED * rate)
        self._stretches: deque[tuple[int, int]] = deque()

    @property
    def foresight(self) -> int:
        """How many frames ahead all words must be known before the depth is settled."""
        return max(self._attack, self._bridged)

    def speak(self, start: int, end: int) -> None:
        """Take in a word, from frame `start` to before `end`; words come in order of start."""
        if self._stretches and start - self._stretches[-1][1] < self._bridged:
            first, last = self._stretches.pop()
            start, end = first, max(last, end)
        self._stretches.append((start, end))

    def forget(self, before: int) -> None:
        """Drop the words that matter to no frame from `before` on."""
        while len(self._stretches) > 1 and self._stretches[0][1] + self._release < before:
            self._stretches.popleft()

    def depth(self, first: int, last: int) -> npt.NDArray[np.float32] | float:
        """Return how far music is ducked on each frame from `first` to before `last`.

        The depth goes from 0 for not at all to 1 for wholly. One number stands for equal depths.
        """
        for start, end in self._stretches:
            if start <= first and last <= end:
                return 1.0
        near = [
            (start, end)
            for start, end in self._stretches
            if start - self._attack < last and end + self._release > first
        ]
        if not near:
            return 0.0
        frames = np.arange(first, last, dtype=np.float64)
        depths = [self._slopes(frames, start, end) for start, end in near]
        return np.asarray(np.max(depths, axis=0), dtype=np.float32)

    def _slopes(
        self, frames: npt.NDArray[np.float64], start: int, end: int
    ) -> npt.NDArray[np.float64]:
        """Return the depth for one stretch of words: half a cosine down, and another one up."""
        falling = (frames - (start - self._attack)) / self._attack
        rising = (end + self._release - frames) / self._release
        progress = np.clip(np.minimum(falling, rising), 0.0, 1.0)
        return np.asarray(0.5 - 0.5 * np.cos(np.pi * progress))


CHUNK_SECONDS: Final = 0.25
SEAM_SECONDS: Final = 0.02
"""Seconds in which a chunk fades over into the next."""

ENTRY_SECONDS: Final = 0.5
"""Seconds at the start of a piece in which music that began before it fades in."""

EXIT_SECONDS: Final = 1.0
"""Seconds at the end of a piece in which music that goes on after it fades out."""


@dataclass(frozen=True, slots=True)
class Chunk:
    """A chunk of the music with its place in the piece."""

    start: int
    """The frame of the piece that the first of `samples` falls on."""
    samples: Samples
    """The recorded samples, faded at both ends."""

    @property
    def end(self) -> int:
        """The frame after its last one."""
        return self.start + len(self.samples)


def with_music(
    placements: Iterable[Placement], track: Track, gains: Gains, frames: int | None
) -> Iterator[Placement]:
    """Yield placed sounds with music under them, lower under words, in order of start.

    Where no word is to be heard (`Placement.by_itself`), the music is not ducked.

    Parameters
    ----------
    placements
        In order of start; taken some two seconds ahead of the music, as it falls before a word.
    track
        The music, at the sample rate of the placements.
    gains
        Those of the piece.
    frames
        Length of the piece, at whose end the music fades; None to let it end by itself.
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
    """Take out and yield the placements that start before a frame."""
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
    """Yield the chunks from where the music is first heard to its end or that of the piece."""
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
    """Return the number of the chunk that sounds as the piece begins, or first after `since`."""
    if track.since > 0.0:
        since = frame_at(track.since, track.music.rate)
        return max(-((begins - since) // step), 0)
    return max(-begins, 0) // step


def _open_and_close(chunk: Chunk, track: Track, frames: int | None) -> None:
    """Fade music in if it began before the piece, and out if it goes on after it."""
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
    """Return `count` frames from frame `first` on; fewer at the end."""
    size = CHANNELS * SAMPLE.itemsize
    file.seek(first * size)
    samples = np.frombuffer(file.read(count * size), dtype=SAMPLE)
    return samples.reshape(-1, CHANNELS).astype(np.float32)
