"""Estimates the beats of music with a confidence, and moves tapped beats to the music's onsets.

The beats come from `tracking`; each is put on its onset. Beats that keep to one line are beats of
one tempo. Half and twice as many, and those between, may be meant as well. How much better
the beats fit what is heard than these do gives the confidence: it is high only where bass and drums
tell them from all others. Which beats open a bar is not estimated.

Tapped beats are moved to the onsets, since people tap early, and never twice the same.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from throwcount.sounds.errors import MusicError
from throwcount.sounds.mixing.music_bed import Music
from throwcount.sounds.music.pulse import Array, Onsets, find_pulse, onsets_of
from throwcount.sounds.music.tracking import Frames, frames_of, track

LONGEST_SECONDS: Final = 1200.0
SHORTEST_SECONDS: Final = 5.0

CONFIDENT: Final = 0.7
"""From this confidence on the beats can be taken to be right."""

FEWEST_BEATS: Final = 8

ON_ONSET: Final = 0.04
"""Seconds from a tracked beat within which its onset is looked for."""

CLEAR: Final = 0.25
"""Least strength of a clear onset, as a share of the median."""

OFF_CURVE: Final = 0.025
"""An onset so many seconds off the curve through its neighbours is not that of the beat."""

EVEN: Final = 0.012
"""Beats are of one tempo if 95 % of them are within so many seconds of one line."""

END: Final = 0.06
"""Seconds before the end of the music after which there is no beat, since cut sounds click."""

AROUND: Final = 5
"""Beats over which it is averaged how many have an onset."""

LIKELY: Final = 0.5
"""Beats of less confidence are weak."""

STRONG: Final = 0.5
"""Least strength of the onset of the first and of the last beat, as a share of the median."""

MOST_WEAK: Final = 5
"""Weak stretches that are named in the sentence."""

NO_BEATS: Final = "Unsure: hardly any beats are heard in the music."
TOO_SHORT: Final = f"Unsure: less than {SHORTEST_SECONDS:g} s of music do not tell its beats."


@dataclass(frozen=True, slots=True)
class Estimate:
    """The beats of music, as far as they can be heard from it alone."""

    beats: tuple[float, ...]
    """In seconds, in order, from the first with an onset to the last; empty if none is heard."""
    tempo: float | None
    """Beats a minute: the tempo throughout, or the median where it moves; None without beats."""
    steady: bool
    """Whether the tempo is the same throughout, so that `tempo` and the first beat say it all."""
    confidence: float
    """From 0 to 1; the beats are sure from `CONFIDENT` on."""
    sentence: str
    """What was found, whether it is sure and, if not, why; half and twice the tempo, and the beats
    between, since a person may count so."""
    chances: tuple[float, ...] = ()
    """The confidence of each beat, from 0 to 1, if the tempo and what is between are right."""
    weak: tuple[tuple[float, float], ...] = ()
    """Stretches from and to a moment in seconds in which hardly any beat is heard."""
    alternatives: "tuple[Alternative, ...]" = ()
    """Other beats that may be meant."""


@dataclass(frozen=True, slots=True)
class Alternative:
    """Other beats that may be meant."""

    name: str
    """Such as "half"."""
    beats: tuple[float, ...]
    """In seconds, in order."""

    @property
    def tempo(self) -> float:
        """Median tempo in beats a minute."""
        return tempo_of(np.array(self.beats))


def estimate(music: Music, done: Callable[[float], None] = lambda _share: None) -> Estimate:
    """Estimate the beats of decoded music; `done` is told now and then which share is done.

    Raises
    ------
    MusicError
        If the music is longer than `LONGEST_SECONDS`.
    """
    if music.seconds > LONGEST_SECONDS:
        raise MusicError(
            f"The music lasts {music.seconds / 60:.0f} minutes; beats are estimated for at most "
            f"{LONGEST_SECONDS / 60:.0f}. Give its tempo and first beat, or tap it."
        )
    nothing = Estimate((), None, False, 0.0, NO_BEATS)
    if music.seconds < SHORTEST_SECONDS:
        return replace(nothing, sentence=TOO_SHORT)
    onsets = onsets_of(music)
    if not onsets.strength.any():
        return nothing
    frames = frames_of(onsets)
    tracked = track(frames, done)
    if len(tracked.beats) < FEWEST_BEATS:
        return nothing
    beats, strengths = _on_onsets(tracked.beats, onsets)
    clear = strengths > CLEAR * np.median(strengths)
    chances = np.asarray(tracked.chance_at(tracked.beats) * _averaged(clear))
    strong = (strengths > STRONG * np.median(strengths)) & (beats < onsets.end - END)
    heard = np.flatnonzero(strong & (chances > LIKELY))
    if not len(heard) or heard[-1] - heard[0] + 1 < FEWEST_BEATS:
        return nothing
    within = slice(heard[0], heard[-1] + 1)
    return _estimate_of(beats[within], chances[within], frames)


def _averaged(clear: npt.NDArray[np.bool_]) -> Array:
    """Return the share of clear ones among `AROUND`."""
    kernel = np.ones(AROUND)
    whole = np.convolve(np.ones(len(clear)), kernel, "same")
    return np.asarray(np.convolve(clear, kernel, "same") / whole)


def _on_onsets(beats: Array, onsets: Onsets) -> tuple[Array, Array]:
    """Return beats moved to their onsets, or to the curve through others; and how strong these are.

    Where an onset is not that of the beat its strength is 0.
    """
    found, strengths = onsets.near(beats, ON_ONSET)
    clear = strengths > CLEAR * np.median(strengths)
    numbers, moved = np.arange(len(beats)), beats
    for _ in range(2):
        if not clear.any():
            break
        moved = beats + np.interp(numbers, numbers[clear], (found - beats)[clear])
        clear = clear & (np.abs(moved - _smoothed(moved)) < OFF_CURVE)
    return moved, strengths * clear


def _smoothed(times: Array) -> Array:
    """Return times with all but the outer ones on the cubic through two neighbours on each side."""
    smooth = times.copy()
    smooth[2:-2] = (4.0 * (times[1:-3] + times[3:-1]) - times[:-4] - times[4:]) / 6.0
    return smooth


def _even(beats: Array) -> Array | None:
    """Return the beats on one line, if they keep to it; None otherwise."""
    numbers = np.arange(len(beats), dtype=np.float64)
    used = np.ones(len(beats), dtype=bool)
    for _ in range(3):
        line = np.polynomial.Polynomial.fit(numbers[used], beats[used], 1)
        off = np.abs(beats - line(numbers))
        used = off <= max(2.0 * float(np.median(off)), 0.002)
    return np.asarray(line(numbers)) if np.quantile(off, 0.95) < EVEN else None


def _estimate_of(beats: Array, chances: Array, frames: Frames) -> Estimate:
    even = _even(beats)
    beats = beats if even is None else even
    others = alternatives_of(beats)
    doubts = _doubts(beats, chances, frames)
    confidence = round(math.prod(doubt for doubt, _ in doubts), 2)
    sentence = _found(beats, even is not None)
    if confidence < CONFIDENT:
        _, reason = min(doubts)
        sentence = f"Unsure, {reason}: {sentence[0].lower()}{sentence[1:]}"
    tempo = tempo_of(beats)
    sentence += (
        f" Half of that, {tempo / 2:.1f}, or twice, {tempo * 2:.1f}, may be meant, or the beats "
        f"between, from {others[-1].beats[0]:.2f} s on."
    )
    weak = _weak(beats, chances)
    if weak:
        where = [f"{first:.1f} to {last:.1f} s" for first, last in weak[:MOST_WEAK]]
        more = f" and {len(weak) - MOST_WEAK} times more" if len(weak) > MOST_WEAK else ""
        sentence += f" Weak, so listen there: {', '.join(where)}{more}."
    return Estimate(
        beats=_rounded(beats),
        tempo=tempo,
        steady=even is not None,
        confidence=confidence,
        sentence=sentence,
        chances=tuple(round(float(chance), 2) for chance in chances),
        weak=weak,
        alternatives=others,
    )


def _rounded(beats: Array) -> tuple[float, ...]:
    return tuple(round(float(beat), 4) for beat in beats)


def alternatives_of(beats: Array) -> tuple[Alternative, ...]:
    """Return half and twice as many beats, and those between, last."""
    numbers = np.arange(len(beats))
    halves = np.interp(np.arange(2 * len(beats) - 1) / 2, numbers, beats)
    rows = {
        "half": beats[::2],
        "half, the other beats": beats[1::2],
        "double": halves,
        "off-beat": halves[1::2],
    }
    return tuple(Alternative(name, _rounded(row)) for name, row in rows.items())


def _weak(beats: Array, chances: Array) -> tuple[tuple[float, float], ...]:
    """Return the stretches of beats of little confidence."""
    edges = np.flatnonzero(np.diff(np.pad(chances < LIKELY, 1).astype(int)))
    times = [float(beat) for beat in beats]
    pairs = ((times[a], times[b - 1]) for a, b in zip(edges[::2], edges[1::2], strict=True))
    return tuple((round(a, 2), round(b, 2)) for a, b in pairs)


def _found(beats: Array, steady: bool) -> str:
    where = f"from {beats[0]:.2f} s to {beats[-1]:.2f} s"
    if steady:
        return f"One tempo, {tempo_of(beats):.2f} beats a minute, {where}."
    low, high = np.quantile(60.0 / np.diff(beats), [0.05, 0.95])
    return f"A tempo that is mostly between {low:.1f} and {high:.1f} beats a minute, {where}."


LOW_WEIGHT: Final = 2.0
"""How much more the low onsets tell of beats and those between than all onsets do."""


SLOW: Final = (55.0, 75.0)
QUICK: Final = (140.0, 165.0)
"""Tempos at which people may count twice or half as fast: both would be usual tempos then, which
lie around 120 (McKinney & Moelants, Music Percept. 24 (2006) 155-166; figure from memory)."""


def _doubts(beats: Array, chances: Array, frames: Frames) -> list[tuple[float, str]]:
    """Return how sure each doubt leaves us, from 0 to 1, and the words for it.

    Limits were set on the part of the pieces in `bench_beats.py` that is worked on.
    """
    numbers = np.arange(len(beats))

    def better(step: float, first: float = 0.0) -> tuple[float, float]:
        """Return by how much every `step`-th beat from one on fits worse."""
        other = np.interp(np.arange(first, len(beats) - 1, step), numbers, beats)
        fit = frames.fit(other)
        return own[0] - fit[0], own[1] - fit[1]

    own = frames.fit(beats)
    likely = chances >= LIKELY
    between = better(1.0, 0.5)
    double, half = sum(better(0.5)), min(sum(better(2.0)), sum(better(2.0, 1.0)))
    triplets = sum(better(2 / 3))
    tempo = tempo_of(beats)
    return [
        (_rising(float(likely.mean()), 0.6, 0.8), "much of it has no beats"),
        (_rising(sum(own), 2.0, 7.0), "the beats are not distinct"),
        (
            _rising(float(chances[likely].mean()), 0.8, 0.95),
            "many beats are not heard clearly",
        ),
        (
            _rising(between[0] + LOW_WEIGHT * between[1], 2.0, 7.0),
            "what is between the beats may be the beats",
        ),
        (_rising(double, 1.0, 4.0), "twice as many may be the beats"),
        (_rising(half, 0.0, 2.0), "half as many may be the beats"),
        (_rising(triplets, 0.0, 4.0), "the beats may be three of two"),
        (1.0 - _rising(tempo, *QUICK), "so many beats may be halves of beats"),
        (_rising(tempo, *SLOW), "so few beats may be two each"),
    ]


def _rising(value: float, none: float, full: float) -> float:
    """Return 0 up to `none`, 1 from `full` on, and a linear ramp in between."""
    return min(max((value - none) / (full - none), 0.0), 1.0)


def tempo_of(beats: Array) -> float:
    """Return the median tempo of beats, in beats a minute."""
    return float(60.0 / np.median(np.diff(beats)))


NEAR_TAP: Final = 0.25
"""A tap is that of a beat no further off than this share of the time between the taps."""


def settled_by_two(found: Estimate, first: float, second: float) -> Estimate | None:
    """Return the estimate whose beats two taps, in seconds, follow; None if they follow none.

    A person's taps say for sure which of the alternatives is meant, so its confidence is that of
    its beats.
    """
    rows = [("", found.beats), *((each.name, each.beats) for each in found.alternatives)]
    gap = second - first
    best, chosen = NEAR_TAP * gap, None
    for name, beats in rows:
        times = np.array(beats)
        off = np.maximum(np.abs(times[:-1] - first), np.abs(times[1:] - second)).min()
        if off < best:
            best, chosen = float(off), (name, times)
    if chosen is None:
        return None
    name, times = chosen
    numbers = np.interp(times, found.beats, np.arange(len(found.beats)))
    chances = np.interp(numbers, np.arange(len(found.beats)), found.chances)
    told = f" These are the beats of the two taps{f' ({name})' if name else ''}."
    return replace(
        found,
        beats=_rounded(times),
        tempo=tempo_of(times),
        confidence=round(float(chances.mean()), 2),
        sentence=_found(times, found.steady) + told,
        chances=tuple(round(float(chance), 2) for chance in chances),
        alternatives=alternatives_of(times),
    )


EARLIEST: Final = 0.12
LATEST: Final = 0.06
"""Seconds by which taps may be early or late on the whole; people tap 20 to 80 ms early (Repp,
Psychon. Bull. Rev. 12 (2005) 969-992; figures from memory)."""

REACH: Final = 0.05
"""Largest distance in seconds of a tap from its onset, once all taps are moved alike."""

SHARE: Final = 0.25
"""The same as a share of a beat; a larger distance is to another beat."""

HELD: Final = 0.6
"""Least share of the stretches that keep to one tempo."""

STRONGER: Final = 2.0
"""Onsets at the moved taps must be this many times stronger than on average."""


@dataclass(frozen=True, slots=True)
class Settled:
    """Tapped beats, moved to the onsets of the music."""

    beats: tuple[float, ...]
    """In seconds, in order, as many as were tapped."""
    later: float
    """Median time in seconds by which they are later than the taps."""


def settled_steady(first: float, period: float, count: int, onsets: Onsets) -> Settled | None:
    """Return `count` tapped beats of one tempo, moved to the music's pulse.

    `first` is the first beat in seconds and `period` the seconds from beat to beat, as tapped. The
    result is None if the music has no such pulse near the taps.
    """
    numbers = np.arange(count, dtype=np.float64) - count // 2
    middle = first + period * (count // 2)
    for parts in (1, 2):  # If half beats are as strong, whole ones may be hard to find.
        pulse = find_pulse(onsets, period / parts)
        if pulse is None or pulse.held < HELD:
            continue
        beat = pulse.first + round((middle - pulse.first) / pulse.period) * pulse.period
        beats = beat + numbers * parts * pulse.period
        if _is_near(beat - middle, period) and _is_strong(onsets.at(beats), onsets):
            return _settled(beats, beat - middle)
    return None


def _is_near(later: float, period: float) -> bool:
    return -min(LATEST, SHARE * period) <= later <= min(EARLIEST, SHARE * period)


def _is_strong(strengths: Array, onsets: Onsets) -> bool:
    """Return whether onsets at some times are much stronger than in the mean."""
    return float(strengths.mean()) > STRONGER * max(float(onsets.strength.mean()), 1e-12)


def settled_listed(taps: Array, onsets: Onsets) -> Settled | None:
    """Return beats tapped one by one, each moved to its onset; None if there are none near."""
    usual = float(np.median(np.diff(taps)))
    shifts = np.arange(
        -min(LATEST, SHARE * usual), min(EARLIEST, SHARE * usual), onsets.hop, dtype=np.float64
    )
    strengths = onsets.at(taps + shifts[:, np.newaxis])
    best = int(np.argmax(strengths.mean(axis=1)))
    if not _is_strong(strengths[best], onsets):
        return None
    moved = taps + shifts[best]
    found, own = onsets.near(moved, min(REACH, SHARE * usual))
    clear = own > CLEAR * np.median(own)
    change = np.interp(np.arange(len(taps)), np.flatnonzero(clear), (found - taps)[clear])
    return _settled(taps + change, float(np.median(change)))


def _settled(beats: Array, later: float) -> Settled:
    return Settled(tuple(round(float(beat), 4) for beat in beats), later)
