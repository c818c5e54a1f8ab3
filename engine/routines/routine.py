"""A routine as its author wrote it, and its tempo while it is laid out part by part.

The tempo is either its own (`OwnTempo`) or that of the music (`MusicTempo`).
"""

from abc import ABC, abstractmethod
from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, TypeAlias, get_args

from throwcount.engine.patterns.pattern import Hand, Pattern
from throwcount.engine.timing.manners import Manner
from throwcount.engine.timing.tempo import EXPONENTS, Curve, Segment, TempoMap, ramp_beats

CuePlace: TypeAlias = Literal["centre", "left", "right"]
CUE_PLACES: tuple[CuePlace, ...] = get_args(CuePlace)


@dataclass(frozen=True, slots=True)
class Length:
    """The length of a part; at most one field is given, and none if it lasts up to a bar."""

    cycles: int | None = None
    """Repetitions of the pattern."""
    beats: int | None = None
    """Beats."""
    seconds: float | None = None
    """Seconds, rounded to whole cycles or, in a rest, to whole beats."""

    @property
    def open(self) -> bool:
        """Whether none is given."""
        return self.cycles is None and self.beats is None and self.seconds is None


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternPart:
    """A pattern for some time."""

    pattern: Pattern
    """One that can be thrown."""
    length: Length
    """How long it goes on."""
    name: str = ""
    """What the part is called; its pattern if empty."""
    tempo: float | None = None
    """Beats a minute at its first throw; the tempo reached before it if None."""
    to: float | None = None
    """Beats a minute reached at its end; no change if None."""
    curve: Curve = "linear-beats"
    """How that tempo is reached."""
    throws: Fraction | None = None
    """Throws a beat of the music in this part; that of the part before it if None."""
    cue: str | None = None
    """What is said before it; made from its name or pattern if None, nothing if empty."""
    cue_ahead: int | None = None
    """How many beats before its first throw (or that of its bridge) the cue begins; as late as it
    fits if None."""
    how: str = ""
    """How all of it is thrown, in words, such as "high and wide"."""
    manners: tuple[Manner, ...] = ()
    """How single throws of its cycle are made."""
    bridge: tuple[Pattern, ...] | None = None
    """The throws that lead into it, written by hand: two rows if the timing changes between them,
    else one; worked out if None. Never used after a rest."""
    shifted: Hand | None = None
    """The hand that waits or hurries on the way into it if the timing changes; either if None."""
    change: int | None = None
    """Objects taken up (more than 0) or put down (less than 0) on the way into it without a stop,
    or in the rest before it; None if the author does not say."""
    bar: int | None = None
    """The bar of the music, from 1, on whose first beat it begins; None if no bar is given."""
    last_one: bool = False
    """Whether its last cycle is called."""
    first: Hand | None = None
    """The hand that begins, if it follows a rest or opens the routine; the routine's if None."""

    @property
    def title(self) -> str:
        """The name, or the pattern's text."""
        return self.name or self.pattern.text

    @property
    def how_told(self) -> str:
        """How it is thrown, with its single throws: "high and wide, second 5 under the leg"."""
        singly = (f"{manner.throw.text} {manner.how}" for manner in self.manners)
        return ", ".join(filter(None, [self.how, *singly]))


@dataclass(frozen=True, slots=True, kw_only=True)
class RestPart:
    """A stop, in which the hands hold what they have."""

    length: Length
    """Its length in beats or seconds; its beats have the tempo of the next part."""
    name: str = "rest"
    """What it is called, such as "bow"."""
    cue: str | None = None
    """As in `PatternPart`, but made from its name if None."""
    cue_ahead: int | None = None
    """As in `PatternPart`."""
    count_in: int | None = None
    """Beats counted at its end, before the next part; the routine's if None."""
    bar: int | None = None
    """As in `PatternPart`."""

    @property
    def title(self) -> str:
        """The name."""
        return self.name


RoutinePart: TypeAlias = PatternPart | RestPart


@dataclass(frozen=True, slots=True)
class MusicBeats:
    """The beats of the music."""

    times: tuple[float, ...]
    """When each beat falls, in seconds of the music, in order, at least two. With two, the tempo is
    the same throughout; with more, the last interval goes on after the list."""
    a_bar: int = 4
    """Beats in a bar; the first beat listed opens bar 1."""
    throws: Fraction = Fraction(1)
    """Throws a beat of the music, such as 2 for two on each, unless a part says otherwise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Routine:
    """A whole act."""

    title: str
    """What it is called."""
    parts: tuple[RoutinePart, ...]
    """The parts in order, with at least one pattern; repeats are written out. Rests stand between
    patterns."""
    tempo: float | None = None
    """Beats a minute at the first throw, if there is no music and the first part gives none; if
    None, one that suits the highest throw of all parts up to the first that gives a tempo."""
    first: Hand = "right"
    """The hand that begins."""
    count_in: int = 4
    """Beats counted before the first throw, and after a rest."""
    ready: float | None = None
    """Seconds for filling the hands before anything is heard."""
    music: MusicBeats | None = None
    """The beats of its music, which give the tempo; None without music."""


class TempoLine(ABC):
    """The tempo laid out so far, and how it goes on."""

    position: Fraction | None = None
    """The beat of the music, from 0, that comes next; None without music."""
    _throws = Fraction(1)

    def __init__(self) -> None:
        self._segments: list[Segment] = []

    def beats_to(self, position: Fraction) -> Fraction:
        """Return how many throw beats are left until a beat of the music, if there is music."""
        return (position - (self.position or 0)) * self._throws

    @abstractmethod
    def begin(self, part: RoutinePart) -> None:
        """Take over the tempo of a part, for its throws and those that follow it."""

    @abstractmethod
    def beats_in(self, seconds: float) -> float:
        """Return how many beats of the part that begins now last `seconds`."""

    @abstractmethod
    def lay(self, beats: int, *, moving: bool = False) -> None:
        """Let `beats` beats pass, with the change of tempo of the part if `moving`."""

    def tempos(self) -> TempoMap:
        """Return the tempo over all beats so far."""
        return TempoMap(tuple(self._segments))


class OwnTempo(TempoLine):
    """The tempo that the parts give.

    `tempo` is that at the first throw, in beats a minute, unless the first part has its own.
    """

    def __init__(self, tempo: float) -> None:
        super().__init__()
        self._tempo = tempo
        self._part: RoutinePart | None = None

    def begin(self, part: RoutinePart) -> None:
        """Take over the tempo of a part, if it has one."""
        self._part = part
        if isinstance(part, PatternPart) and part.tempo is not None:
            self._tempo = part.tempo

    def beats_in(self, seconds: float) -> float:
        """Return how many beats of the part that begins now last `seconds`."""
        part = self._part
        if isinstance(part, PatternPart) and part.to is not None:
            return ramp_beats(self._tempo, part.to, seconds, part.curve)
        return seconds * self._tempo / 60

    def lay(self, beats: int, *, moving: bool = False) -> None:
        """Let `beats` beats pass, with the change of tempo of the part if `moving`."""
        part, start = self._part, self._tempo
        exponent = 1.0
        if moving and isinstance(part, PatternPart) and part.to is not None:
            self._tempo, exponent = part.to, EXPONENTS[part.curve]
        self._segments.append(Segment(start, self._tempo, beats, exponent))


class MusicTempo(TempoLine):
    """The tempo of the music, times the throws a beat of the music.

    `position` is the beat of the music, from 0, that the first throw falls on.
    """

    position: Fraction

    def __init__(self, music: MusicBeats, position: Fraction) -> None:
        super().__init__()
        self._music = music
        self._throws = music.throws
        self.position = position

    def begin(self, part: RoutinePart) -> None:
        """Take over the throws a beat of a part, if it has any."""
        if isinstance(part, PatternPart) and part.throws is not None:
            self._throws = part.throws

    def beats_in(self, seconds: float) -> float:
        """Return how many beats of the part that begins now last `seconds`."""
        until = music_beat_at(self._music, music_time(self._music, self.position) + seconds)
        return (until - float(self.position)) * float(self._throws)

    def lay(self, beats: int, *, moving: bool = False) -> None:  # noqa: ARG002 - the music decides
        """Let `beats` beats pass, one segment for each interval of the music."""
        here, end = self.position, self.position + beats / self._throws
        while here < end:
            interval = _interval_of(self._music, here)
            last = interval == len(self._music.times) - 2
            until = end if last else min(end, Fraction(interval + 1))
            earlier, later = self._music.times[interval : interval + 2]
            tempo = 60 * float(self._throws) / (later - earlier)
            self._segments.append(Segment(tempo, tempo, float((until - here) * self._throws)))
            here = until
        self.position = end


def music_time(music: MusicBeats, position: Fraction) -> float:
    """Return when a beat of the music falls, in seconds of the music.

    `position` is in beats since the first. Times between the beats and outside the list are
    interpolated linearly.
    """
    interval = _interval_of(music, position)
    earlier, later = music.times[interval : interval + 2]
    return earlier + float(position - interval) * (later - earlier)


def music_beat_at(music: MusicBeats, seconds: float) -> float:
    """Return the beat of the music at a time: the inverse of `music_time`."""
    interval = min(max(bisect_right(music.times, seconds) - 1, 0), len(music.times) - 2)
    earlier, later = music.times[interval : interval + 2]
    return interval + (seconds - earlier) / (later - earlier)


def _interval_of(music: MusicBeats, position: Fraction) -> int:
    """Return the index of the interval between beats that holds a position, or the nearest one."""
    return min(max(position.__floor__(), 0), len(music.times) - 2)
