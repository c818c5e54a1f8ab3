"""A routine as plain data, as its author wrote it: parts in order, rests, and the music's beats."""

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, TypeAlias, get_args

from engine.patterns.pattern import Hand, Pattern, Turn
from engine.timing.tempo import Curve

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
