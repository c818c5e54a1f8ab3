"""Matched filters that find pieces of the call on a take, and the take's background spectrum.

The take is whitened by its background spectrum, so that loud frequencies (hum, voices) count for no
more than faint ones. It is then clipped at a few times its usual level (Huber, Ann. Math. Stat. 35,
1964), so that a thud counts for little more than what surrounds it. The matched filter (Turin, An
introduction to matched filters, IRE Trans. Inf. Theory 6, 1960), whitened alike, is the cross-
correlation of the take with a piece, computed by overlap-save. Parabolas place peaks between frames
(Smith & Serra, PARSHL, Proc. ICMC 1987).
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
"""The least power at a frequency, as a share of the strongest; digital silence is no noise."""

ROUNDING: Final = 4e-10
"""Mean square a bin of the noise that rounding to 16 bits adds."""

SILENCE: Final = 1e-12
"""Mean square below which a window is silent; the least that 16 bits hold is 100 times more."""


@dataclass(frozen=True, slots=True, eq=False)
class BackgroundSpectrum:
    """How strong a take is at each frequency on average."""

    frames: int
    """Length of the take in frames."""
    spectrum: npt.NDArray[np.float64] | None
    """Mean square a bin, from 0 Hz to half of `RATE`, shape (`SPECTRUM_WINDOW` / 2 + 1,): the
    geometric mean over the take, which short sounds hardly move. None if all of it is silent."""

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return self.frames / RATE

    def whitening(self, bins: int) -> npt.NDArray[np.float64]:
        """Return the factors that whiten the take to a mean square of 1.

        There are `bins` of them from 0 Hz to half of `RATE`. They are 0 above the highest frequency
        that was recorded, since a low sample rate or few bits leave only rounding noise there.

        Raises
        ------
        ValueError
            If all of the take is silent.
        """
        if self.spectrum is None:
            raise ValueError("Silence has no spectrum.")
        numbers = np.arange(len(self.spectrum))
        floored = np.maximum(self.spectrum, FLOOR * self.spectrum.max())
        places = np.linspace(0.0, len(self.spectrum) - 1, bins)
        factors = 1 / np.sqrt(np.interp(places, numbers, floored))
        recorded = numbers[self.spectrum > ROUNDING]
        if len(recorded):
            factors[places > recorded[-1]] = 0.0
        return np.asarray(factors)


def background_spectrum(blocks: Iterable[Mono]) -> BackgroundSpectrum:
    """Return the background spectrum of a take: the geometric mean of periodograms.

    `blocks` are all of the take, in blocks of any length; the first window of each block counts.
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
    # A periodogram's power is exponentially distributed, and the mean of its logarithm is less than
    # the logarithm of its mean by Euler's constant.
    mean = np.exp(logarithms / windows + np.euler_gamma)
    return BackgroundSpectrum(frames, mean / float(np.sum(window**2)))


Floats: TypeAlias = npt.NDArray[np.float64]
Spectrum: TypeAlias = npt.NDArray[np.complexfloating]

MATCH_WINDOW: Final = 2**17
"""Frames of a take that are correlated at a time."""

STEP: Final = MATCH_WINDOW - LONGEST
EVERY: Final = 2
BAND: Final = (300.0, RATE / 2 / EVERY)
"""Frequencies that are compared, in Hz. Below them there is little of the call; with none above,
the correlation is needed at every second frame only; with none above 4 kHz, hard takes lose
their call."""

CLIPPED_AT: Final = 3.0
"""Level at which the whitened take is clipped, in standard deviations."""

LEAST_STRENGTH: Final = 6.0
"""Least strength of a match, in standard deviations of what noise gives."""

LEAST_DISTANCE: Final = 120
"""Of this many neighbouring places (10 ms) at most one is a match."""

MOST: Final = 4_096
"""How many matches of a piece are kept, the strongest."""


@dataclass(frozen=True, slots=True, eq=False)
class Matches:
    """Where a piece of the call may be on a take."""

    time: float
    """The call's time in the middle of the piece, in seconds."""
    seconds: float
    """Its length."""
    weight: float
    """The root of its energy, once whitened as the take."""
    times: Floats
    """Where its middle may be on the take, in seconds, rising; shape (matches,)."""
    strengths: Floats
    """How well it fits there, in standard deviations of what noise gives."""

    def stronger(self, least: float) -> "Matches":
        """Return the matches with a strength of at least `least`."""
        kept = self.strengths >= least
        return replace(self, times=self.times[kept], strengths=self.strengths[kept])


def matches(
    blocks: Iterable[Mono], pieces: Sequence[Template], take: BackgroundSpectrum
) -> list[Matches]:
    """Return for each piece where it may be on a take.

    `blocks` are the take from its beginning, in blocks of `STEP` frames. Each of `pieces` needs
    some megabytes. `take` is the background spectrum of the take, which is not silent.
    """
    white = take.whitening(MATCH_WINDOW // 2 + 1).astype(np.float32)
    filters = [matched_filter(piece.samples, white) for piece in pieces]
    found: list[list[Floats]] = [[] for _ in pieces]
    for first, window in _windows(blocks):
        spectrum = clipped_spectrum(window, white)
        for (response, weight), places in zip(filters, found, strict=True):
            if weight > 0.0:
                places.append(_peaks(first, spectrum * response, weight))
    return [
        _strongest(piece, weight, np.concatenate([np.zeros((0, 2)), *places]))
        for piece, (_, weight), places in zip(pieces, filters, found, strict=True)
    ]


def _windows(blocks: Iterable[Mono]) -> Iterator[tuple[int, Mono]]:
    """Yield the first frame and the samples of overlapping windows, filled up with silence.

    A window has `MATCH_WINDOW` frames and begins `STEP` after the last; `blocks` have `STEP`.
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


def matched_filter(samples: Mono, white: Mono) -> tuple[Spectrum, float]:
    """Return the response of a piece's matched filter below the end of `BAND`, and its weight.

    `samples` are the piece, no longer than the window of the take that it is compared with. `white`
    whitens the window, shape (frames of the window / 2 + 1,). The weight is the root of the energy.
    """
    frames = 2 * (len(white) - 1)
    spectrum = np.fft.rfft(samples, frames) * white
    frequencies = np.fft.rfftfreq(frames, 1 / RATE)
    spectrum[(frequencies < BAND[0]) | (frequencies >= BAND[1])] = 0.0
    low = spectrum[: frames // 2 // EVERY + 1].conj()
    return low, float(np.sqrt(2 * np.sum(np.abs(low) ** 2) / frames))


def clipped_spectrum(sound: Mono, white: Mono) -> Spectrum:
    """Return the spectrum of a window of a take, whitened and clipped, below the end of `BAND`.

    `sound` has a multiple of 2 `EVERY` frames. `white` whitens it, shape (frames / 2 + 1,).
    """
    whole = np.fft.irfft(np.fft.rfft(sound) * white)
    clipped = np.clip(whole, -CLIPPED_AT, CLIPPED_AT)
    # A copy, so that the rest of the spectrum is not kept along with it.
    return np.fft.rfft(clipped)[: len(sound) // 2 // EVERY + 1].copy()


def _peaks(first: int, product: Spectrum, weight: float) -> Floats:
    """Return the matches in a window as rows of time and strength.

    `first` is the window's first frame, `product` its spectrum times the matched filter's response,
    and `weight` the filter's.
    """
    # A transform of half the length gives every second frame, twice as large.
    fit = np.fft.irfft(product)[: STEP // EVERY] / (EVERY * weight)
    groups = fit[: len(fit) // LEAST_DISTANCE * LEAST_DISTANCE].reshape(-1, LEAST_DISTANCE)
    best = groups.argmax(axis=1) + LEAST_DISTANCE * np.arange(len(groups))
    best = best[(fit[best] > LEAST_STRENGTH) & (best > 0) & (best < len(fit) - 1)]
    before, here, after = fit[best - 1], fit[best], fit[best + 1]
    peaks = (here >= before) & (here >= after)
    bend = before - 2 * here + after
    shift = np.where(peaks & (bend < 0.0), (before - after) / (2 * np.minimum(bend, -1e-9)), 0.0)
    times = (first + EVERY * (best + shift)) / RATE
    return np.asarray(np.stack((times, here), axis=1)[peaks])


def _strongest(piece: Template, weight: float, rows: Floats) -> Matches:
    """Return the strongest matches of a piece; `rows` hold where each begins and its strength."""
    if len(rows) > MOST:
        rows = rows[np.sort(np.argpartition(-rows[:, 1], MOST)[:MOST])]
    half = piece.span.frames / 2 / RATE
    time = piece.span.start / RATE + half
    return Matches(time, 2 * half, weight, rows[:, 0] + half, rows[:, 1])


def parabolic_peak(values: npt.NDArray[np.floating]) -> float:
    """Return the height of the parabola through the highest of some values and its neighbours.

    `values` are at equal distances, shape (count,), at least one. If the first or the last is the
    highest, that value is returned.
    """
    place = int(np.argmax(values))
    here = float(values[place])
    if not 0 < place < len(values) - 1:
        return here
    before, after = float(values[place - 1]), float(values[place + 1])
    bend = before - 2 * here + after
    return here - (before - after) ** 2 / (8 * bend) if bend < 0 else here
