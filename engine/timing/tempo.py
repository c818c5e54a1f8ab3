"""Tempo maps: the time of each beat, in closed form, for tempo curves and their concatenation.

A beat's time is computed from its own index and never by adding up the beats before it, so it is
as exact after an hour as on the first beat. Every curve can be evaluated both ways, from beats to
seconds and from seconds to beats.

All ramps belong to one family. With beats counted from the start of the ramp, ``tempo ** exponent``
changes linearly over the beats (Friberg & Sundberg, JASA 105 (1999) 1469-1484, give the same
family for the slowing at a piece's end, as a curve over the position): exponent 1 is linear in
beats, exponent 2 linear in time, and the limit 0 a constant ratio a beat. The ``log1p`` and
``expm1`` forms keep their precision on ramps that are almost flat.
"""

import math
from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import accumulate
from typing import Final, Literal, TypeAlias

from throwcount.engine.errors import TempoError

SLOWEST_TEMPO: Final = 10.0
FASTEST_TEMPO: Final = 1000.0

Curve: TypeAlias = Literal["linear-beats", "linear-time", "ratio"]
EXPONENTS: Final[dict[Curve, float]] = {"linear-beats": 1.0, "linear-time": 2.0, "ratio": 0.0}


def checked_tempo(tempo: float) -> float:
    """Return `tempo` if it is in range.

    Raises
    ------
    TempoError
        If it is not a number from `SLOWEST_TEMPO` to `FASTEST_TEMPO`.
    """
    if not SLOWEST_TEMPO <= tempo <= FASTEST_TEMPO:
        raise TempoError(
            f"A tempo of {tempo:g} beats a minute is outside what can be kept: "
            f"{SLOWEST_TEMPO:g} to {FASTEST_TEMPO:g}."
        )
    return tempo


def held_tempo(tempo: float) -> float:
    """Return the tempo nearest to `tempo` that is in range."""
    return min(max(tempo, SLOWEST_TEMPO), FASTEST_TEMPO)


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of beats on one tempo curve; beats and seconds count from its start.

    Raises
    ------
    TempoError
        If a tempo is out of range or the length is not more than 0.
    """

    start: float
    """Tempo on its first beat, in beats a minute."""
    end: float
    """Tempo on the first beat after it, in beats a minute."""
    beats: float
    """Its length, more than 0."""
    exponent: float = 1.0
    """The power of the tempo that changes linearly over the beats, 0 or more; 0 is a constant
    ratio."""
    kept: float | None = None
    """How many of its beats are used, if another tempo takes over before its end; None for all."""
    _growth: float = field(init=False, repr=False, compare=False)
    _rise: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        checked_tempo(self.start)
        checked_tempo(self.end)
        if not self.beats > 0:
            raise TempoError(f"A tempo must last more than 0 beats, not {self.beats:g}.")
        growth = math.log1p((self.end - self.start) / self.start)
        object.__setattr__(self, "_growth", growth)
        object.__setattr__(self, "_rise", math.expm1(self.exponent * growth))

    @property
    def flat(self) -> bool:
        """Whether the tempo does not change."""
        return self.start == self.end

    @property
    def length(self) -> float:
        """The length of what is used, in beats."""
        return self.beats if self.kept is None else self.kept

    @property
    def seconds(self) -> float:
        """The length of what is used, in seconds."""
        return self.time_at(self.length)

    @property
    def last(self) -> float:
        """The tempo on the first beat after what is used, in beats a minute."""
        return self.end if self.kept is None else self.tempo_at(self.kept)

    def since(self, beat: float) -> "Segment":
        """Return the rest of the segment from `beat` on, which lies within what is used."""
        kept = None if self.kept is None else self.kept - beat
        return Segment(self.tempo_at(beat), self.end, self.beats - beat, self.exponent, kept)

    def time_at(self, beat: float) -> float:
        """Return the seconds from the start of the segment to `beat`."""
        if self.flat:
            return 60 * beat / self.start
        share = beat / self.beats
        scale = 60 * self.beats / self.start
        if self.exponent == 0:
            return scale * -math.expm1(-self._growth * share) / self._growth
        log = math.log1p(self._rise * share)
        power = 1 - 1 / self.exponent
        grown = math.expm1(power * log) / power if power else log
        return scale * grown / self._rise

    def beat_at(self, seconds: float) -> float:
        """Return the beat at `seconds` from the start of the segment: the inverse of `time_at`."""
        if self.flat:
            return seconds * self.start / 60
        share = seconds * self.start / (60 * self.beats)
        if self.exponent == 0:
            return self.beats * -math.log1p(-self._growth * share) / self._growth
        power = 1 - 1 / self.exponent
        grown = self._rise * share
        log = math.log1p(power * grown) / power if power else grown
        return self.beats * math.expm1(log) / self._rise

    def tempo_at(self, beat: float) -> float:
        """Return the tempo in force at `beat`, in beats a minute."""
        if self.flat:
            return self.start
        share = beat / self.beats
        if self.exponent == 0:
            return self.start * math.exp(self._growth * share)
        return self.start * math.exp(math.log1p(self._rise * share) / self.exponent)


@dataclass(frozen=True, slots=True)
class TempoMap:
    """Segments one after another; time 0 is beat 0.

    Before beat 0 the first tempo is kept, so that a count-in stands at the tempo to come. After
    the last segment its end tempo is held.
    """

    segments: tuple[Segment, ...]
    """At least one segment."""
    _first_beats: tuple[float, ...] = field(init=False, repr=False, compare=False)
    _first_times: tuple[float, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        # Exact sums, each rounded once, so a thousand segments lose no more than one does.
        lengths = (Fraction(segment.seconds) for segment in self.segments)
        times = tuple(float(time) for time in accumulate(lengths, initial=Fraction(0)))
        beats = tuple(accumulate((segment.length for segment in self.segments), initial=0))
        object.__setattr__(self, "_first_beats", beats)
        object.__setattr__(self, "_first_times", times)

    def __add__(self, following: "TempoMap") -> "TempoMap":
        return TempoMap(self.segments + following.segments)

    def until(self, beat: float) -> "TempoMap":
        """Return the first `beat` beats, more than 0, whose times stay the same to the last bit.

        Raises
        ------
        TempoError
            If `beat` is not more than 0.
        """
        if beat > self.beats:
            return self + steady(self.end, beat - self.beats)
        index = bisect_left(self._first_beats, beat) - 1
        kept = beat - self._first_beats[max(index, 0)]
        if not kept > 0:
            raise TempoError(f"A tempo cannot be kept for {beat:g} beats; it takes more than 0.")
        return TempoMap((*self.segments[:index], replace(self.segments[index], kept=kept)))

    def since(self, beat: float) -> "TempoMap":
        """Return what follows from `beat` on, 0 or more, as a map in which it is beat 0."""
        index = bisect_right(self._first_beats, beat) - 1
        if index == len(self.segments):
            return steady(self.end)
        first = self.segments[index].since(beat - self._first_beats[index])
        return TempoMap((first, *self.segments[index + 1 :]))

    def scaled(self, factor: float) -> "TempoMap":
        """Return the map with all tempos multiplied, and kept in range."""
        segments = (
            replace(each, start=held_tempo(each.start * factor), end=held_tempo(each.end * factor))
            for each in self.segments
        )
        return TempoMap(tuple(segments))

    @property
    def beats(self) -> float:
        """Beats until the last tempo is held."""
        return self._first_beats[-1]

    @property
    def seconds(self) -> float:
        """Seconds until the last tempo is held."""
        return self._first_times[-1]

    @property
    def start(self) -> float:
        """The tempo on beat 0, in beats a minute."""
        return self.segments[0].start

    @property
    def end(self) -> float:
        """The tempo held at the end, in beats a minute."""
        return self.segments[-1].last

    def time_at(self, beat: float) -> float:
        """Return the time of `beat` in seconds; both may be negative."""
        if beat < 0:
            return 60 * beat / self.start
        index = bisect_right(self._first_beats, beat) - 1
        since = beat - self._first_beats[index]
        if index == len(self.segments):
            return self._first_times[index] + 60 * since / self.end
        return self._first_times[index] + self.segments[index].time_at(since)

    def beat_at(self, seconds: float) -> float:
        """Return the beat at a time in seconds: the inverse of `time_at`."""
        if seconds < 0:
            return seconds * self.start / 60
        index = bisect_right(self._first_times, seconds) - 1
        since = seconds - self._first_times[index]
        if index == len(self.segments):
            return self._first_beats[index] + since * self.end / 60
        return self._first_beats[index] + self.segments[index].beat_at(since)

    def tempo_at(self, beat: float) -> float:
        """Return the tempo in force at `beat`, in beats a minute."""
        if beat < 0:
            return self.start
        index = bisect_right(self._first_beats, beat) - 1
        if index == len(self.segments):
            return self.end
        return self.segments[index].tempo_at(beat - self._first_beats[index])

    def extremes(self, first: float = 0, last: float = math.inf) -> tuple[float, float]:
        """Return the slowest and the fastest tempo from beat `first`, 0 or more, up to `last`."""
        tempos = [self.tempo_at(first), self.end if last > self.beats else self.tempo_before(last)]
        after = bisect_right(self._first_beats, first)
        for index in range(after, bisect_left(self._first_beats, last)):
            tempos += [self.segments[index - 1].last, self.tempo_at(self._first_beats[index])]
        return min(tempos), max(tempos)

    def tempo_before(self, beat: float) -> float:
        """Return the tempo reached on `beat`, more than 0, before another one may begin there."""
        index = bisect_left(self._first_beats, beat) - 1
        if index == len(self.segments):
            return self.end
        return self.segments[index].tempo_at(beat - self._first_beats[index])


def steady(tempo: float, beats: float = 1) -> TempoMap:
    """Return a map that keeps `tempo`; `beats` matters only when another map follows."""
    return TempoMap((Segment(tempo, tempo, beats),))


def ramp(start: float, end: float, beats: float, curve: Curve) -> TempoMap:
    """Return a map that reaches `end` on beat `beats`, the first after the ramp, and holds it."""
    return TempoMap((Segment(start, end, beats, EXPONENTS[curve]),))


def ramp_beats(start: float, end: float, seconds: float, curve: Curve) -> int:
    """Return the whole number of beats, at least 1, whose ramp lasts nearest to `seconds`."""
    one_beat = Segment(start, end, 1, EXPONENTS[curve])
    return max(1, round(seconds / one_beat.seconds))


def steps(start: float, end: float, step: float, every: float) -> TempoMap:
    """Return a staircase: `step` beats a minute more (or fewer) every `every` beats, up to `end`.

    The sign of `step` follows the direction from `start` to `end`; the last step is shortened to
    end there.

    Raises
    ------
    TempoError
        If `step` or `every` is not more than 0.
    """
    if not (step > 0 and every > 0):
        raise TempoError(
            f"Steps of {step:g} beats a minute every {every:g} beats lead nowhere: "
            "both must be more than 0."
        )
    count = math.ceil(abs(end - start) / step)
    sign = math.copysign(step, end - start)
    tempos = [start + sign * index for index in range(count)] + [end]
    return TempoMap(tuple(Segment(tempo, tempo, every) for tempo in tempos))
