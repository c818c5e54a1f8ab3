"""A routine as plain data, as its author wrote it: parts in order, rests, and the music's beats.

The tempo of a routine while it is laid out, part by part: its own, or that of the music.
"""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, Protocol, TypeAlias, get_args

from throwcount.engine.patterns.pattern import Hand, Pattern, Turn
from throwcount.engine.timing.tempo import EXPONENTS, Curve, Segment, TempoMap, ramp_beats

CuePlace: TypeAlias = Literal["centre", "left", "right"]
CUE_PLACES: tuple[CuePlace, ...] = get_args(CuePlace)


@dataclass(frozen=True, slots=True)
class Length:
    """How long something goes on; at most one is given, and none where it lasts up to a bar."""

    cycles: int | None = None
    """Repetitions of the pattern."""
    beats: int | None = None
    """How many beats."""
    seconds: float | None = None
    """How many seconds, brought to whole cycles or, in a rest, to whole beats."""

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
    """What is said before it comes; made from its name or pattern if None, nothing if empty."""
    cue_ahead: int | None = None
    """Beats before its first throw (or before that of its bridge) by which the cue begins; as late
    as it fits if None."""
    how: str = ""
    """How it is thrown, in words, such as "under the leg"; said after a cue that is made."""
    bridge: tuple[Turn, ...] | None = None
    """The throws that lead into it, written by hand; worked out if None. Never used
    after a rest."""
    change: int | None = None
    """Objects taken up (more than 0) or put down (less than 0) on the way into it without a stop,
    or in the rest before it; None where the author does not say."""
    bar: int | None = None
    """The bar of the music, from 1, on whose first beat it begins; None for as it comes."""
    last_one: bool = False
    """Whether its last cycle is called."""
    first: Hand | None = None
    """The hand that begins, where it follows a rest or opens the routine; the routine's if None."""

    @property
    def title(self) -> str:
        """The name, or the pattern's text."""
        return self.name or self.pattern.text


@dataclass(frozen=True, slots=True, kw_only=True)
class RestPart:
    """A stop: the hands hold what they have."""

    length: Length
    """How long, in beats or seconds; beats go on at the tempo of what comes next."""
    name: str = "rest"
    """What it is called, such as "bow"."""
    cue: str | None = None
    """As in `PatternPart`; made from its name if None."""
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
    """Where the beats of the music are."""

    times: tuple[float, ...]
    """The beats, in seconds of the music, in order, at least two. With two, the tempo is the same
    throughout; with more, each beat is where it is listed, and the last interval goes on."""
    a_bar: int = 4
    """Beats in a bar; the first beat listed opens bar 1."""
    throws: Fraction = Fraction(1)
    """Throws a beat of the music, unless a part says otherwise: 2 for two throws a beat."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Routine:
    """A whole act."""

    title: str
    """What it is called."""
    parts: tuple[RoutinePart, ...]
    """The parts in order, with at least one pattern; repeats are written out. Rests stand
    between patterns."""
    tempo: float | None = None
    """Beats a minute at the first throw, where there is no music and the first part has none; one
    that suits its highest throw if None."""
    first: Hand = "right"
    """The hand that begins."""
    count_in: int = 4
    """Beats counted before the first throw, and after a rest."""
    ready: float | None = None
    """Seconds for filling the hands before anything is heard."""
    music: MusicBeats | None = field(default=None)
    """Where its beats are; None without music. With it, it is the music that gives the tempo."""


class TempoLine(Protocol):
    """Tempo laid out so far, and how it goes on."""

    @property
    def position(self) -> Fraction | None:
        """Beats of the music since its first beat; None without music."""

    def begin(self, part: RoutinePart) -> None:
        """Take over the tempo of a part, for its throws and those that follow it."""

    def beats_in(self, seconds: float) -> float:
        """Return how many beats the part that begins now has in so many seconds."""

    def beats_to(self, position: Fraction) -> Fraction:
        """Return how many throw beats are left until a beat of the music."""

    def lay(self, beats: int, *, moving: bool = False) -> None:
        """Let so many beats pass, with the change of tempo of the part if `moving`."""

    def tempos(self) -> TempoMap:
        """Return all that was laid."""


class OwnTempo:
    """The tempo that the parts give.

    `tempo` is that at the first throw, in beats a minute, unless the first part has its own.
    """

    position = None

    def __init__(self, tempo: float) -> None:
        self._tempo = tempo
        self._part: RoutinePart | None = None
        self._segments: list[Segment] = []

    def begin(self, part: RoutinePart) -> None:
        """Take over the tempo of a part, if it has one."""
        self._part = part
        if isinstance(part, PatternPart) and part.tempo is not None:
            self._tempo = part.tempo

    def beats_in(self, seconds: float) -> float:
        """Return how many beats the part that begins now has in so many seconds."""
        part = self._part
        if isinstance(part, PatternPart) and part.to is not None:
            return ramp_beats(self._tempo, part.to, seconds, part.curve)
        return seconds * self._tempo / 60

    def beats_to(self, position: Fraction) -> Fraction:
        """Return nothing: without music there is no such beat."""
        raise NotImplementedError

    def lay(self, beats: int, *, moving: bool = False) -> None:
        """Let so many beats pass."""
        part, start = self._part, self._tempo
        exponent = 1.0
        if moving and isinstance(part, PatternPart) and part.to is not None:
            self._tempo, exponent = part.to, EXPONENTS[part.curve]
        self._segments.append(Segment(start, self._tempo, beats, exponent))

    def tempos(self) -> TempoMap:
        """Return all that was laid."""
        return TempoMap(tuple(self._segments))


class MusicTempo:
    """The tempo of the music, with so many throws a beat of it.

    `position` is the beat of the music, from 0, that the first throw falls on.
    """

    def __init__(self, music: MusicBeats, position: Fraction) -> None:
        self._music = music
        self._throws = music.throws
        self.position = position
        self._segments: list[Segment] = []

    def begin(self, part: RoutinePart) -> None:
        """Take over the throws a beat of a part, if it has any."""
        if isinstance(part, PatternPart) and part.throws is not None:
            self._throws = part.throws

    def beats_in(self, seconds: float) -> float:
        """Return how many beats the part that begins now has in so many seconds."""
        until = music_beat_at(self._music, music_time(self._music, self.position) + seconds)
        return (until - float(self.position)) * float(self._throws)

    def beats_to(self, position: Fraction) -> Fraction:
        """Return how many throw beats are left until a beat of the music."""
        return (position - self.position) * self._throws

    def lay(self, beats: int, *, moving: bool = False) -> None:  # noqa: ARG002 - the music does not ask
        """Let so many beats pass."""
        end = self.position + beats / self._throws
        self._segments.extend(self._up_to(end))
        self.position = end

    def _up_to(self, end: Fraction) -> Iterator[Segment]:
        """Yield a segment for each stretch of the music of one tempo."""
        here = self.position
        while here < end:
            stretch = _stretch_of(self._music, here)
            until = (
                end if stretch == len(self._music.times) - 2 else min(end, Fraction(stretch + 1))
            )
            earlier, later = self._music.times[stretch : stretch + 2]
            tempo = 60 * float(self._throws) / (later - earlier)
            yield Segment(tempo, tempo, float((until - here) * self._throws))
            here = until

    def tempos(self) -> TempoMap:
        """Return all that was laid."""
        return TempoMap(tuple(self._segments))


def music_time(music: MusicBeats, position: Fraction) -> float:
    """Return when a beat of the music falls, in seconds of the music.

    `position` is in beats since the first; between two beats and outside the list it goes on
    evenly.
    """
    stretch = _stretch_of(music, position)
    earlier, later = music.times[stretch : stretch + 2]
    return earlier + float(position - stretch) * (later - earlier)


def music_beat_at(music: MusicBeats, seconds: float) -> float:
    """Return the beat of the music at a moment: `music_time`, inverted."""
    stretch = min(max(bisect_right(music.times, seconds) - 1, 0), len(music.times) - 2)
    earlier, later = music.times[stretch : stretch + 2]
    return stretch + (seconds - earlier) / (later - earlier)


def _stretch_of(music: MusicBeats, position: Fraction) -> int:
    """Return the interval of the list that a position lies in, or the nearest one."""
    return min(max(position.__floor__(), 0), len(music.times) - 2)
