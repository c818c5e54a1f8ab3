"""Candidate beats of music, the evidence for and against them, and the confidence that follows.

Thresholds were set on synthesised music whose beats are known (drums, chords and clicks at 60 to
180 beats a minute, steady, drifting, breathing and played unevenly), so that beats of high
confidence are within 20 ms of them.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from throwcount.sounds.music.pulse import Array, Onsets, Pulse, find_pulse

REACH: Final = 0.06
"""Seconds from a beat within which its onset is looked for."""

CLOSE: Final = 0.016
"""Seconds from a time within which an onset counts as there."""

CLEAR: Final = 0.25
"""Least strength of a clear onset, as a share of the median."""

PHASES: Final = np.arange(1, 24) / 24
"""Phases between two beats that are compared with the beats."""

SAME_PLACE: Final = 0.045
"""Seconds from a beat within which a phase still belongs to it."""

LEAST_LOW: Final = 2.0
"""Low onsets count as evidence where they are so many times stronger than in the mean."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """Measures of how well beats fit the onsets."""

    covered: float
    """Share of beats with a clear onset."""
    between: float
    """Strength of onsets at the strongest phase between the beats, relative to the beats."""
    halfway: float
    """Strength of onsets half way between the beats, relative to the beats."""
    alternation: float
    """Strength of the weaker ones of every other beat, relative to the stronger ones."""
    low: float
    """Strength of low onsets on the beats, relative to their strongest phase; 1 if few."""
    deviation: float
    """Quantile of 95 % of the distances from clear onsets to their beats, in seconds."""
    scatter: float
    """Quantile of 90 % of the distances, in seconds, from each beat to the smooth curve through its
    neighbours, two on either side."""
    furthest: float
    """The longest of these distances, in seconds."""


def evidence_for(beats: Array, onsets: Onsets) -> Evidence:
    """Return the evidence for at least five beats, in seconds and in order."""
    found, strengths = onsets.near(beats, REACH)
    clear = strengths > CLEAR * np.median(strengths)
    usual = float(np.median(np.diff(beats)))
    on_beat = max(float(np.mean(_strongest(beats, onsets))), 1e-12)
    between = _between(beats, onsets)
    distinct = (usual * PHASES > SAME_PLACE) & (usual * (1 - PHASES) > SAME_PLACE)
    off_curve = _off_curve(beats)
    turns = sorted((float(strengths[::2].mean()), float(strengths[1::2].mean())))
    return Evidence(
        covered=float(clear.mean()),
        between=float(between[distinct].max(initial=0.0) / on_beat),
        halfway=float(between[len(PHASES) // 2] / on_beat),
        alternation=turns[0] / max(turns[1], 1e-12),
        low=_low(beats, onsets),
        deviation=_quantile(np.abs(found - beats)[clear], 0.95),
        scatter=_quantile(off_curve, 0.9),
        furthest=float(off_curve.max()),
    )


def _quantile(values: Array, share: float) -> float:
    return float(np.quantile(values, share)) if len(values) else 0.0


def _off_curve(times: Array) -> Array:
    """Return the distance of each time from the cubic through the two before and two after it."""
    nearest = times[1:-3] + times[3:-1]
    next_nearest = times[:-4] + times[4:]
    return np.asarray(np.abs(times[2:-2] - (4.0 * nearest - next_nearest) / 6.0))


def _strongest(times: Array, onsets: Onsets, *, low: bool = False) -> Array:
    """Return the strength of the strongest onset close to each of `times`, of any shape."""
    offsets = np.linspace(-CLOSE, CLOSE, 9)
    return np.asarray(onsets.at(times[..., np.newaxis] + offsets, low=low).max(axis=-1))


def _between(beats: Array, onsets: Onsets, *, low: bool = False) -> Array:
    """Return the mean strength at each of `PHASES`."""
    times = beats[:-1] + PHASES[:, np.newaxis] * np.diff(beats)
    return np.asarray(_strongest(times, onsets, low=low).mean(axis=1))


def _low(beats: Array, onsets: Onsets) -> float:
    on_beat = float(_strongest(beats, onsets, low=True).mean())
    between = _between(beats, onsets, low=True)
    strongest = max(on_beat, float(between.max()))
    if strongest < LEAST_LOW * max(float(between.mean()), 1e-12):
        return 1.0
    return on_beat / strongest


CONFIDENT: Final = 0.7
"""From this confidence on, every beat can be taken to be within 20 ms."""

FEWEST_BEATS: Final = 12

SLOWEST: Final = 45.0
QUICKEST: Final = 240.0
"""Range of tempo in beats a minute beyond which half or twice the tempo is not preferred."""

USUAL_TEMPO: Final = 115.0
"""Of tempos that fit equally well, the one nearest to this is taken."""

RATIOS: Final = (1.0, 0.5, 2.0, 2 / 3, 1.5, 0.75, 4 / 3)
"""Ratios by which the tracker's tempo may be wrong: halves, doubles, triplets, dotted notes."""

COMPETING: Final = 0.75
"""If onsets half way between the beats are stronger than this share, they are beats too."""

ALIKE: Final = 0.65
"""If every other beat is weaker than this share, only the stronger ones are beats."""

SAME_BEAT: Final = 0.3
"""Two beats closer than this share of the usual interval are one."""

AGREED_SECONDS: Final = 0.02
AGREED_ROUGHLY: Final = 0.06
"""Two beats that are closer than this, in seconds, agree."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something that may be wrong with candidate beats."""

    confidence: float
    """How sure it leaves us, from 0 to 1."""
    reason: str
    """The words for it in a sentence."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """Beats that may be those of the music, and the doubts about them."""

    beats: Array
    """In seconds, in order."""
    steady: bool
    """Whether they keep to one tempo."""
    doubts: tuple[Doubt, ...]

    @property
    def confidence(self) -> float:
        """The product of that of all doubts, from 0 to 1."""
        return math.prod(doubt.confidence for doubt in self.doubts)

    @property
    def seconds(self) -> float:
        """From the first beat to the last."""
        return float(self.beats[-1] - self.beats[0])


def most_confident(candidates: list[Candidate]) -> Candidate:
    """Return the candidate of the highest confidence."""
    return max(candidates, key=lambda each: each.confidence)


def steady_beats(tracked: Array, onsets: Onsets) -> Candidate | None:
    """Return beats at the one tempo that fits best, or None.

    `tracked` are the beat tracker's beats in seconds, at least `FEWEST_BEATS`.
    """
    rough = _period(tracked)
    pulses = (find_pulse(onsets, rough / ratio) for ratio in RATIOS)
    candidates = (_of_pulse(pulse, tracked, onsets) for pulse in pulses if pulse is not None)
    found = [each for each in candidates if each is not None]
    if not found:
        return None
    fitting = [each for each in found if each.confidence >= CONFIDENT]
    return min(fitting, key=_unusual) if fitting else most_confident(found)


def _period(beats: Array) -> float:
    """Return the period in seconds, by a line through beats of which some may be missing."""
    intervals = np.diff(beats)
    numbers = np.concatenate(([0.0], np.cumsum(np.rint(intervals / np.median(intervals)))))
    return float(np.polyfit(numbers, beats, 1)[0])


def _unusual(candidate: Candidate) -> float:
    """Return the distance of the tempo from the usual one, in octaves."""
    return abs(math.log2(tempo_of(candidate.beats) / USUAL_TEMPO))


def _of_pulse(pulse: Pulse, tracked: Array, onsets: Onsets) -> Candidate | None:
    beats = _heard(pulse.beats, onsets)
    if len(beats) < FEWEST_BEATS:
        return None
    evidence = evidence_for(beats, onsets)
    share = (pulse.end - pulse.begin) / (onsets.end - onsets.start)
    within = tracked[(tracked > beats[0] - REACH) & (tracked < beats[-1] + REACH)]
    agreed = _agreed(within, beats, AGREED_ROUGHLY)
    doubts = (
        Doubt(_rising(share, 0.5, 0.6), "one tempo is only heard in part of it"),
        Doubt(_rising(pulse.held, 0.6, 0.85), "the tempo does not stay the same"),
        Doubt(_rising(pulse.stretches, 2.0, 5.0), "there are few distinct beats"),
        Doubt(
            _falling(evidence.deviation, 0.010, 0.014), "the onsets are not as even as the tempo"
        ),
        Doubt(_rising(agreed, 0.5, 0.85), "two ways of listening do not agree"),
        *_common_doubts(evidence, tempo_of(beats)),
    )
    return Candidate(beats, True, doubts)


def moving_beats(tracked: list[Array], onsets: Onsets) -> Candidate | None:
    """Return beats that are each on their own onset, for a tempo that moves, or None.

    `tracked` are the beat tracker's beats at several settings, in seconds, at least `FEWEST_BEATS`
    each; the first are taken, the others compared with them.
    """
    rows = [_heard(_on_onsets(_level(beats, onsets), onsets), onsets) for beats in tracked]
    beats = rows[0]
    if len(beats) < FEWEST_BEATS:
        return None
    evidence = evidence_for(beats, onsets)
    agreed = min(_agreed(beats, other, AGREED_SECONDS) for other in rows[1:])
    doubts = (
        Doubt(_rising(agreed, 0.7, 0.95), "two ways of listening do not agree"),
        Doubt(_falling(evidence.scatter, 0.008, 0.014), "the beats are uneven"),
        Doubt(_falling(evidence.furthest, 0.012, 0.020), "some beats are uneven"),
        *_common_doubts(evidence, tempo_of(beats)),
    )
    return Candidate(beats, False, doubts)


def _common_doubts(evidence: Evidence, tempo: float) -> tuple[Doubt, ...]:
    return (
        Doubt(_falling(tempo, QUICKEST, 1.1 * QUICKEST), "so many beats may be parts of beats"),
        Doubt(_rising(evidence.covered, 0.6, 0.85), "many beats have no onset"),
        Doubt(
            _falling(evidence.between, COMPETING, 0.95),
            "between the beats there are onsets as strong as on them",
        ),
        Doubt(_rising(evidence.alternation, 0.4, ALIKE), "every other beat is much weaker"),
        Doubt(_rising(evidence.low, 0.3, 0.6), "the low notes fall between the beats"),
    )


def _rising(value: float, none: float, full: float) -> float:
    """Return 0 up to `none`, 1 from `full` on, and a linear ramp in between."""
    return min(max((value - none) / (full - none), 0.0), 1.0)


def _falling(value: float, full: float, none: float) -> float:
    return 1.0 - _rising(value, full, none)


def _agreed(beats: Array, others: Array, seconds: float) -> float:
    """Return the share of one row of beats that agrees with the other, the larger of both shares.

    If one counts twice as fast as the other, all of the other agrees.
    """
    if not len(beats) or not len(others):
        return 0.0
    gaps = np.abs(beats[:, np.newaxis] - others)
    both = np.mean(gaps.min(axis=1) < seconds), np.mean(gaps.min(axis=0) < seconds)
    return float(max(both))


def _heard(beats: Array, onsets: Onsets) -> Array:
    """Return the beats from the first with a clear onset to the last before the music ends."""
    beats = beats[beats < onsets.end - REACH]
    if not len(beats):
        return beats
    _, strengths = onsets.near(beats, REACH)
    clear = np.flatnonzero(strengths > CLEAR * np.median(strengths))
    return beats[clear[0] : clear[-1] + 1] if len(clear) else beats[:0]


def _on_onsets(beats: Array, onsets: Onsets) -> Array:
    """Return beats moved to their onsets, those without one interpolated between neighbours."""
    found, strengths = onsets.near(beats, REACH)
    clear = strengths > CLEAR * np.median(strengths)
    if not clear.any():
        return beats
    numbers = np.arange(len(beats))
    moved = np.maximum.accumulate(np.interp(numbers, numbers[clear], found[clear]))
    distinct = np.diff(moved, prepend=-np.inf) > SAME_BEAT * np.median(np.diff(beats))
    return np.asarray(moved[distinct])


def _level(beats: Array, onsets: Onsets) -> Array:
    """Return every other beat if only those are strong, or twice as many if half beats are too."""
    evidence = evidence_for(beats, onsets)
    tempo = tempo_of(beats)
    if evidence.alternation < ALIKE and tempo / 2 >= SLOWEST:
        _, strengths = onsets.near(beats, REACH)
        return beats[int(strengths[1::2].mean() > strengths[::2].mean()) :: 2]
    if evidence.halfway > COMPETING and tempo * 2 <= QUICKEST:
        halves = np.arange(2 * len(beats) - 1) / 2
        return np.interp(halves, np.arange(len(beats)), beats)
    return beats


def tempo_of(beats: Array) -> float:
    """Return the median tempo of beats, in beats a minute."""
    return float(60.0 / np.median(np.diff(beats)))
