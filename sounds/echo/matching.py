"""Where on a take a piece of the call is heard: it is slid along all of the take.

Both are made white, so that what is strong on the take (hum, voices) counts for no more than what
is weak; and the take is held at a few times its usual level, so that a thud counts for little
more than what is around it. Then the piece is multiplied with the take at every place.

How high a curve is between the places where it was measured.

What a take is like as a whole: how long, and how strong at each frequency.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from throwcount.sounds.echo.played_call import LONGEST, Template
from throwcount.sounds.samples import RATE, Mono

SPECTRUM_WINDOW: Final = 2_048
"""Frames of each spectrum that is averaged."""

FLOOR: Final = 1e-9
"""No frequency counts as weaker than this share of the strongest: digital silence is no noise."""

ROUNDING: Final = 4e-10
"""Mean square a bin of what rounding to 16 bits adds, and of what is no more than that."""

SILENCE: Final = 1e-12
"""Mean square below which a window is silent: what 16 bits hold at the least is 100 times more."""


@dataclass(frozen=True, slots=True, eq=False)
class BackgroundSpectrum:
    """What a take is like."""

    frames: int
    """How many frames the take has."""
    spectrum: npt.NDArray[np.float64] | None
    """Mean square a bin of its background, from 0 Hz to half of `RATE`, shape (`SPECTRUM_WINDOW` /
    2 + 1,): the mean of its logarithm over the take, which short sounds hardly move. None where all
    of the take is silent."""

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return self.frames / RATE

    def whitening(self, bins: int) -> npt.NDArray[np.float64]:
        """Return the factors that make its background white, of mean square 1.

        `bins` is how many bins there are from 0 Hz to half of `RATE`.

        Raises
        ------
        ValueError
            If all of the take is silent.
        """
        if self.spectrum is None:
            raise ValueError("Silence has no spectrum.")
        return whitening(self.spectrum, bins)


def whitening(spectrum: npt.NDArray[np.float64], bins: int) -> npt.NDArray[np.float64]:
    """Return the factors that make a spectrum flat, at `bins` frequencies of the same range.

    They are 0 beyond what a recorder of a low sample rate, or few bits, has kept at all: of noise
    that is only rounding, nothing can be told.
    """
    floored = np.maximum(spectrum, FLOOR * spectrum.max())
    places = np.linspace(0.0, len(spectrum) - 1, bins)
    factors = 1 / np.sqrt(np.interp(places, np.arange(len(spectrum)), floored))
    factors[places > _highest(spectrum)] = 0.0
    return np.asarray(factors)


def _highest(spectrum: npt.NDArray[np.float64]) -> int:
    """Return the highest bin that was recorded: a recorder of a low sample rate has no more."""
    recorded = np.flatnonzero(spectrum > ROUNDING)
    return int(recorded[-1]) if len(recorded) else len(spectrum) - 1


def background_spectrum(blocks: Iterable[Mono]) -> BackgroundSpectrum:
    """Return what a take is like.

    `blocks` are all of the sound, in blocks of any length; one window of each block is looked at.
    """
    window = np.hanning(SPECTRUM_WINDOW).astype(np.float32)
    frames = windows = 0
    logarithms = np.zeros(SPECTRUM_WINDOW // 2 + 1)
    for block in blocks:
        frames += len(block)
        sound = np.pad(block[:SPECTRUM_WINDOW], (0, max(SPECTRUM_WINDOW - len(block), 0))) * window
        if float(np.mean(sound**2)) > SILENCE:
            power = np.abs(np.fft.rfft(sound)) ** 2
            logarithms += np.log(power + FLOOR * power.max())
            windows += 1
    if not windows:
        return BackgroundSpectrum(frames, None)
    # The logarithm of a noise's power is less in the mean than that of its mean: by Euler's number.
    mean = np.exp(logarithms / windows + np.euler_gamma)
    return BackgroundSpectrum(frames, mean / float(np.sum(window**2)))


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

LEAST_DISTANCE: Final = 120
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
    groups = fit[: len(fit) // LEAST_DISTANCE * LEAST_DISTANCE].reshape(-1, LEAST_DISTANCE)
    best = groups.argmax(axis=1) + LEAST_DISTANCE * np.arange(len(groups))
    best = best[(fit[best] > LEAST) & (best > 0) & (best < len(fit) - 1)]
    before, here, after = fit[best - 1], fit[best], fit[best + 1]
    peaks = (here >= before) & (here >= after)
    bend = before - 2 * here + after
    shift = np.where(peaks & (bend < 0.0), (before - after) / (2 * np.minimum(bend, -1e-9)), 0.0)
    times = (first + 2 * (best + shift)) / RATE
    return np.asarray(np.stack((times, here), axis=1)[peaks])


def _strongest(piece: Template, weight: float, rows: Floats) -> Matches:
    """Return the strongest matches of a piece, given by where it begins and how strong."""
    if len(rows) > MOST:
        rows = rows[np.sort(np.argpartition(-rows[:, 1], MOST)[:MOST])]
    half = piece.stretch.frames / 2 / RATE
    time = piece.stretch.start / RATE + half
    return Matches(time, 2 * half, weight, rows[:, 0] + half, rows[:, 1])


def parabolic_peak(values: npt.NDArray[np.floating]) -> float:
    """Return the peak of the parabola through the highest of some values and its neighbours.

    Parameters
    ----------
    values
        At equal distances, shape (count,), at least one. Where the first or the last is the
        highest, the peak may lie beyond, and nothing is made up: that value is returned.
    """
    place = int(np.argmax(values))
    here = float(values[place])
    if not 0 < place < len(values) - 1:
        return here
    before, after = float(values[place - 1]), float(values[place + 1])
    bend = before - 2 * here + after
    return here - (before - after) ** 2 / (8 * bend) if bend < 0 else here
