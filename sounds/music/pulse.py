"""Onset strength of music, to a few milliseconds, and a steady pulse in it.

*Onset strength*: the rise, within 10 ms, of the energy in two dozen bands on a logarithmic scale
(spectral flux, as in Bello et al., A tutorial on onset detection in music signals, IEEE Trans.
Speech Audio Process. 13 (2005) 1035-1047; from memory), every 2 ms, with the local mean subtracted
and brought to one scale, so that soft passages count as much as loud ones.

*Pulse*: one tempo throughout. The onset strength of each stretch of some beats is folded at the
period; the onsets gather at one phase. With one tempo throughout, these phases lie on a line over
the beats: its slope corrects the tempo, and its height gives the first beat. A first line is the
one with the largest resultant of the phases (Mardia & Jupp, Directional Statistics, 2000); least
squares refine it. A stretch off the line (a fill, a break) is left out, and counts against the
pulse.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from throwcount.sounds.mixing.music_bed import SAMPLE, Music
from throwcount.sounds.samples import CHANNELS, Samples

HOP_SECONDS: Final = 0.002
WINDOW_SECONDS: Final = 0.023
"""About the length of the window, which is the nearest power of 2 in frames."""

RISE_HOPS: Final = 5
"""Hops over which the rise is measured."""

EARLY: Final = 0.006
"""Seconds by which the rise of a struck sound comes before its onset, since the window reaches
ahead; corrected, it is within 2 ms for clicks, drums and plucked notes."""

LOWEST_HERTZ: Final = 40.0
HIGHEST_HERTZ: Final = 16_000.0
BANDS: Final = 24
LOW_HERTZ: Final = 160.0
"""The bass drum and the bass are below this."""

FLOOR: Final = 1e-3
"""Energy below this share of a band's mean counts as none."""

SMOOTHING: Final = 0.004
"""Standard deviation of the smoothing kernel, in seconds."""

USUAL_SECONDS: Final = 1.0
SCALE_SECONDS: Final = 4.0
"""Lengths of the running means that are subtracted, and divided by."""

QUIETEST: Final = 0.1
"""Least scale of a passage, as a share of the largest, so that silence is not brought up."""

BLOCK: Final = 1024
"""Hops that are transformed at a time."""

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Onsets:
    """Onset strength, hop by hop."""

    strength: Array
    """Shape (hops,), at least two, each at least 0, about 1 in the mean square."""
    low: Array
    """The same below `LOW_HERTZ`; all 0 if there is next to nothing."""
    start: float
    """Time of the first hop in seconds."""
    hop: float
    """Seconds from one hop to the next."""

    @property
    def end(self) -> float:
        """Time of the last hop in seconds."""
        return self.start + (len(self.strength) - 1) * self.hop

    def at(self, times: Array, *, low: bool = False) -> Array:
        """Return the strength at times in seconds, of any shape; 0 outside the music."""
        strength = self.low if low else self.strength
        places = (times - self.start) / self.hop
        before = np.clip(np.floor(places).astype(np.intp), 0, len(strength) - 2)
        share = places - before
        between = strength[before] * (1.0 - share) + strength[before + 1] * share
        return np.where((share >= 0.0) & (share <= 1.0), between, 0.0)

    def near(self, times: Array, reach: float) -> tuple[Array, Array]:
        """Return the time and the strength of the strongest onset near each time.

        `times` are in seconds, shape (times,). An onset may be `reach` seconds off; nearer ones
        count more.
        """
        offsets = np.arange(-reach, reach + self.hop / 2, self.hop)
        strengths = self.at(times[:, np.newaxis] + offsets)
        best = np.argmax(strengths * np.exp(-0.5 * (offsets / (0.6 * reach)) ** 2), axis=1)
        return times + offsets[best], strengths[np.arange(len(times)), best]


def onsets_of(music: Music) -> Onsets:
    """Return the onset strength of decoded music; needs some 15 MB for each minute of it."""
    hop = round(HOP_SECONDS * music.rate)
    energies, edges = _band_energies(music, hop)
    logs = np.log10(energies + FLOOR * energies.mean(axis=0) + np.float32(1e-12))
    rises = np.zeros_like(logs)
    rises[RISE_HOPS:] = np.maximum(logs[RISE_HOPS:] - logs[:-RISE_HOPS], 0.0)
    seconds = hop / music.rate
    is_low = edges < LOW_HERTZ
    low = rises[:, is_low].sum(axis=1)
    audible = energies[:, is_low].sum() > FLOOR * energies.sum()
    return Onsets(
        _evened(rises.sum(axis=1), seconds),
        _evened(low, seconds) if audible else np.zeros(len(low)),
        EARLY - RISE_HOPS / 2 * seconds,  # a rise belongs to the middle of its hops
        seconds,
    )


def _band_energies(music: Music, hop: int) -> tuple[Samples, Array]:
    """Return the energy in each band, hop by hop, and the lower edge of each band in Hz."""
    window = 1 << round(math.log2(WINDOW_SECONDS * music.rate))
    hertz = np.fft.rfftfreq(window, 1 / music.rate)
    highest = min(HIGHEST_HERTZ, 0.45 * music.rate)
    edges = np.geomspace(LOWEST_HERTZ, highest, BANDS + 1)
    bins = np.unique(np.maximum(np.searchsorted(hertz, edges), 1))
    shape = np.hanning(window).astype(np.float32)
    count = music.frames // hop + 2
    energies = np.zeros((count, len(bins) - 1), dtype=np.float32)
    for first in range(0, count, BLOCK):
        hops = min(BLOCK, count - first)
        sound = _mono(music, first * hop - window // 2, (hops - 1) * hop + window)
        frames = np.lib.stride_tricks.sliding_window_view(sound, window)[::hop]
        power = np.abs(np.fft.rfft(frames * shape)) ** 2
        energies[first : first + hops] = np.add.reduceat(power, bins, axis=1)[:, :-1]
    return energies, hertz[bins[:-1]]


def _mono(music: Music, first: int, count: int) -> Samples:
    """Return the mean of the channels of `count` frames from `first` on, silence outside."""
    begin, end = max(first, 0), min(first + count, music.frames)
    size = CHANNELS * SAMPLE.itemsize
    read = np.fromfile(music.path, SAMPLE, CHANNELS * max(end - begin, 0), offset=begin * size)
    sound = np.zeros(count, dtype=np.float32)
    sound[begin - first : begin - first + len(read) // CHANNELS] = read.reshape(-1, CHANNELS).mean(
        axis=1
    )
    return sound


def _evened(rises: npt.NDArray[np.float32], hop: float) -> Array:
    """Return rises smoothed, less their local mean, on one scale throughout."""
    width = SMOOTHING / hop
    kernel = np.exp(-0.5 * (np.arange(-4 * width, 4 * width + 1) / width) ** 2)
    smooth = np.convolve(rises.astype(np.float64), kernel / kernel.sum(), "same")
    above = np.maximum(smooth - _running_mean(smooth, round(USUAL_SECONDS / hop)), 0.0)
    scale = np.sqrt(_running_mean(above**2, round(SCALE_SECONDS / hop)))
    return np.asarray(above / np.maximum(scale, QUIETEST * scale.max(initial=0.0) + 1e-12))


def _running_mean(values: Array, count: int) -> Array:
    """Return the mean of `count` values around each, of fewer at both ends."""
    total = np.concatenate(([0.0], np.cumsum(values)))
    places = np.arange(len(values))
    first = np.maximum(places - count // 2, 0)
    last = np.minimum(places - count // 2 + count, len(values))
    return np.asarray((total[last] - total[first]) / (last - first))


BEATS: Final = 8
"""Beats in a stretch; the next one begins half as many later."""

PLACES: Final = 120
"""Phases within a beat."""

SLIP: Final = 0.03
"""Largest error of the first period, as a share of it."""

NEAR_SECONDS: Final = (0.060, 0.040, 0.025, 0.012)
"""Largest distance of a stretch from the line, fit by fit; others are left out of the fit."""

HELD_SECONDS: Final = 0.010
"""Largest distance in seconds of a stretch that keeps to the line."""

INDISTINCT: Final = 1.5
DISTINCT: Final = 3.5
"""A stretch counts for nothing if its strongest phase is so many times stronger than the mean, and
in full if it is so many times stronger."""

OUTWEIGHED: Final = 4.0
"""A stretch off the line outweighs so many on it."""

FEWEST: Final = 3
"""Least number of stretches for a line."""


@dataclass(frozen=True, slots=True)
class Pulse:
    """Beats at one tempo."""

    first: float
    """Time of a beat in seconds."""
    period: float
    """Seconds from beat to beat."""
    begin: float
    """When the pulse is first heard, in seconds."""
    end: float
    """When it is last heard, in seconds; it is heard most of the time in between."""
    held: float
    """Share of the stretches there that keep to it, each weighted by how distinct it is."""
    stretches: float
    """Number of stretches there, weighted likewise."""

    @property
    def beats(self) -> Array:
        """The beats while it is heard, in seconds."""
        numbers = np.arange(
            np.ceil((self.begin - self.first) / self.period),
            np.ceil((self.end - self.first) / self.period),
        )
        return np.asarray(self.first + numbers * self.period)


def find_pulse(onsets: Onsets, period: float) -> Pulse | None:
    """Return the pulse with about the given period, or None.

    `period` is in seconds, to within `SLIP`.
    """
    rough = _fitted(onsets, period)
    return None if rough is None else _fitted(onsets, rough.period)


def _fitted(onsets: Onsets, period: float) -> Pulse | None:
    starts, places, weights = _stretches(onsets, period)
    if len(starts) < FEWEST or not weights.any():
        return None
    slope, height = _roughly(starts, places, weights)
    for reach in NEAR_SECONDS:
        off = (places - height - slope * starts + 0.5) % 1.0 - 0.5
        near = weights * (np.abs(off) * period < reach)
        if np.count_nonzero(near) < FEWEST:
            break
        roots = np.sqrt(near)
        line = np.stack((np.ones(len(starts)), starts), axis=1) * roots[:, np.newaxis]
        change, *_ = np.linalg.lstsq(line, off * roots, rcond=None)
        height, slope = height + change[0], slope + change[1]
    off = np.abs((places - height - slope * starts + 0.5) % 1.0 - 0.5) * period
    held = off < HELD_SECONDS
    first, last = _span(held, weights)
    within = weights[first : last + 1]
    whole = last == len(starts) - 1
    return Pulse(
        first=onsets.start + height * period,
        period=period * (1.0 + slope),
        begin=onsets.start + float(starts[first]) * period,
        end=onsets.end if whole else onsets.start + float(starts[last] + BEATS) * period,
        held=float(within[held[first : last + 1]].sum() / max(within.sum(), 1e-12)),
        stretches=float(within.sum()),
    )


def _span(held: npt.NDArray[np.bool_], weights: Array) -> tuple[int, int]:
    """Return the first and the last stretch of the longest part that mostly keeps to the line.

    It is the part with the largest sum of weights, negative off the line (Kadane's algorithm;
    Bentley, Programming pearls, Comm. ACM 27, 1984).
    """
    best, first, last, begin, total = -1.0, 0, 0, 0, 0.0
    for number, worth in enumerate(np.where(held, weights, -OUTWEIGHED * weights)):
        if total <= 0.0:
            begin, total = number, 0.0
        total += float(worth)
        if total > best:
            best, first, last = total, begin, number
    return first, last


def _stretches(onsets: Onsets, period: float) -> tuple[Array, Array, Array]:
    """Return for each stretch its first beat, the phase at which onsets gather, and its weight.

    The phase is a share of the period.
    """
    count = int((onsets.end - onsets.start) / period)
    starts = np.arange(0, max(count - BEATS, 0) + 1, BEATS // 2, dtype=np.float64)
    within = np.arange(PLACES) / PLACES
    beats = np.arange(BEATS)[:, np.newaxis] + within
    profiles = np.empty((len(starts), PLACES))
    for number, start in enumerate(starts):
        profiles[number] = onsets.at(onsets.start + (start + beats) * period).mean(axis=0)
    rows, best = np.arange(len(starts)), profiles.argmax(axis=1)
    before, top = profiles[rows, best - 1], profiles[rows, best]
    after = profiles[rows, (best + 1) % PLACES]
    # The vertex of the parabola through the strongest phase and its neighbours.
    bend = np.maximum(2.0 * top - before - after, 1e-12)
    places = (best + 0.5 * (after - before) / bend) / PLACES
    contrast = top / np.maximum(profiles.mean(axis=1), 1e-12)
    weights = np.clip((contrast - INDISTINCT) / (DISTINCT - INDISTINCT), 0.0, 1.0)
    return starts, places % 1.0, weights


def _roughly(starts: Array, places: Array, weights: Array) -> tuple[float, float]:
    """Return slope and height of the line with the largest resultant of the phases around it."""
    steps = max(len(starts) * BEATS, 50)
    slopes = np.linspace(-SLIP, SLIP, steps | 1)
    turns = np.array([np.exp(2j * np.pi * (places - each * starts)) @ weights for each in slopes])
    best = int(np.argmax(np.abs(turns)))
    return float(slopes[best]), float(np.angle(turns[best]) / (2 * np.pi))
