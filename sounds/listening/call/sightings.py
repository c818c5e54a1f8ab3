"""Where on a take a piece of the call is heard: it is slid along all of the take.

Both are made white, so that what is strong on the take (hum, voices) counts for no more than what
is weak; and the take is held at a few times its usual level, so that a thud counts for little
more than what is around it. Then the piece is multiplied with the take at every place.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from sounds.listening.call.pieces import LONGEST, Template
from sounds.listening.call.survey import BackgroundSpectrum
from sounds.listening.rate import RATE, Mono

Floats: TypeAlias = npt.NDArray[np.float64]
Spectrum: TypeAlias = npt.NDArray[np.complex64]

MATCH_WINDOW: Final = 2**17
"""Frames of a take that a piece is slid along at a time."""

STEP: Final = MATCH_WINDOW - LONGEST
BAND: Final = (300.0, RATE / 4)
"""Frequencies that are compared, in Hz. Below there is little of the call; so far up that every
second frame is enough to tell where a piece fits."""

HELD: Final = 3.0
"""How far a sample of the take may be above the usual, in standard deviations."""

LEAST: Final = 6.0
"""How strong a match is at least, in standard deviations of what noise gives."""

APART: Final = 120
"""Of so many places next to each other (10 ms) one at most is a match."""

MOST: Final = 4_096
"""Matches of a piece that are kept: the strongest."""


@dataclass(frozen=True, slots=True, eq=False)
class Matches:
    """Where a piece may be."""

    time: float
    """The call's time in the middle of the piece, in seconds."""
    seconds: float
    """Its length."""
    weight: float
    """Its size, as heard over the take's background: the root of its energy."""
    times: Floats
    """Where its middle may be on the take, in seconds, rising; shape (matches,)."""
    strengths: Floats
    """How well it fits there, in standard deviations of what noise gives."""

    def stronger(self, least: float) -> "Matches":
        """Return the same without matches that are less strong."""
        kept = self.strengths >= least
        return replace(self, times=self.times[kept], strengths=self.strengths[kept])


def matches(
    blocks: Iterable[Mono], pieces: Sequence[Template], take: BackgroundSpectrum
) -> list[Matches]:
    """Return where pieces may be on a take, for each piece.

    `blocks` are the take from its beginning, in blocks of `STEP` frames. `pieces` are what to look
    for; some megabytes are needed for each. `take` tells what the take is like; it is not silent.
    """
    white = take.whitening(MATCH_WINDOW // 2 + 1).astype(np.float32)
    patterns = [sought(piece.samples, white) for piece in pieces]
    found: list[list[Floats]] = [[] for _ in pieces]
    for first, window in windows(blocks):
        spectrum = held_spectrum(window, white)
        for (pattern, weight), places in zip(patterns, found, strict=True):
            if weight > 0.0:
                places.append(_peaks(first, spectrum * pattern, weight))
    return [
        _strongest(piece, weight, np.concatenate([np.zeros((0, 2)), *places]))
        for piece, (_, weight), places in zip(pieces, patterns, found, strict=True)
    ]


def windows(blocks: Iterable[Mono]) -> Iterator[tuple[int, Mono]]:
    """Yield windows of `MATCH_WINDOW` frames, each `STEP` after the last, with their first frame.

    Parameters
    ----------
    blocks
        Sound in blocks of `STEP` frames; after it there is silence.
    """
    first = 0
    kept = np.zeros(0, dtype=np.float32)
    for block in blocks:
        kept = np.concatenate((kept, block))
        if len(kept) >= MATCH_WINDOW:
            yield first, kept[:MATCH_WINDOW]
            first, kept = first + STEP, kept[STEP:]
    while len(kept):
        yield first, np.pad(kept, (0, MATCH_WINDOW - len(kept)))
        first, kept = first + STEP, kept[STEP:]


def sought(samples: Mono, white: Mono) -> tuple[Spectrum, float]:
    """Return what spectra of a take are multiplied with, and the root of a piece's energy.

    Parameters
    ----------
    samples
        The piece, of no more frames than the part of the take.
    white
        Factors that make the take white, shape (frames of the part / 2 + 1,).
    """
    frames = 2 * (len(white) - 1)
    spectrum = np.fft.rfft(samples, frames) * white
    frequencies = np.fft.rfftfreq(frames, 1 / RATE)
    spectrum[(frequencies < BAND[0]) | (frequencies >= BAND[1])] = 0.0
    half = spectrum[: frames // 4 + 1].conj().astype(np.complex64)
    return half, float(np.sqrt(2 * np.sum(np.abs(half) ** 2) / frames))


def held_spectrum(sound: Mono, white: Mono) -> Spectrum:
    """Return the spectrum of a part of a take, made white and held, below the end of `BAND`.

    Parameters
    ----------
    sound
        An even number of frames.
    white
        Factors that make it white, shape (frames / 2 + 1,).
    """
    whole = np.fft.irfft(np.fft.rfft(sound) * white)
    held = np.clip(whole, -HELD, HELD)
    return np.fft.rfft(held)[: len(sound) // 4 + 1].astype(np.complex64)


def _peaks(first: int, product: Spectrum, weight: float) -> Floats:
    """Return the matches in a window as rows of their time and strength.

    Parameters
    ----------
    first
        The window's first frame.
    product
        Of the spectra of the take and the piece.
    weight
        Root of the piece's energy.
    """
    # The transform of half the length gives every second frame, twice as large.
    fit = np.fft.irfft(product, MATCH_WINDOW // 2)[: STEP // 2] / (2 * weight)
    groups = fit[: len(fit) // APART * APART].reshape(-1, APART)
    best = groups.argmax(axis=1) + APART * np.arange(len(groups))
    best = best[(fit[best] > LEAST) & (best > 0) & (best < len(fit) - 1)]
    before, here, after = fit[best - 1], fit[best], fit[best + 1]
    summits = (here >= before) & (here >= after)
    bend = before - 2 * here + after
    shift = np.where(summits & (bend < 0.0), (before - after) / (2 * np.minimum(bend, -1e-9)), 0.0)
    times = (first + 2 * (best + shift)) / RATE
    return np.asarray(np.stack((times, here), axis=1)[summits])


def _strongest(piece: Template, weight: float, rows: Floats) -> Matches:
    """Return the strongest matches of a piece, given by where it begins and how strong."""
    if len(rows) > MOST:
        rows = rows[np.sort(np.argpartition(-rows[:, 1], MOST)[:MOST])]
    half = piece.stretch.frames / 2 / RATE
    time = piece.stretch.start / RATE + half
    return Matches(time, 2 * half, weight, rows[:, 0] + half, rows[:, 1])
