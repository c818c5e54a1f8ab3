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
    """How long something goes on; at most one is given, and none where it lasts up to a bar.

    Parameters
    ----------
    cycles
        Repetitions of the pattern.
    beats
        Beats.
    seconds
        Seconds, brought to whole cycles or, in a rest, to whole beats.
    """

    cycles: int | None = None
    beats: int | None = None
    seconds: float | None = None

    @property
    def open(self) -> bool:
        """Whether none is given."""
        return self.cycles is None and self.beats is None and self.seconds is None


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternPart:
    """A pattern for some time.

    Parameters
    ----------
    pattern
        One that can be thrown.
    length
        How long.
    name
        What the part is called; its pattern if empty.
    tempo
        Beats a minute at its first throw; the tempo reached before it if None.
    to, curve
        The tempo reached at its end, and how; no change if `to` is None.
    throws
        Throws a beat of the music in this part; that of the part before it if None.
    cue
        What is said before it comes; made from its name or pattern if None, nothing if empty.
    cue_ahead
        Beats before its first throw (or before that of its bridge) by which the cue begins; as
        late as it fits if None.
    how
        In words, how it is thrown, such as "under the leg"; said after a cue that is made.
    bridge
        The throws that lead into it, written by hand; worked out if None. Never used after a rest.
    change
        Objects taken up (more than 0) or put down (less than 0) on the way into it without a
        stop, or in the rest before it; None where the author does not say.
    bar
        The bar of the music, from 1, on whose first beat it begins; None for as it comes.
    last_one
        Whether its last cycle is called.
    first
        The hand that begins, where it follows a rest or opens the routine; the routine's if None.
    """

    pattern: Pattern
    length: Length
    name: str = ""
    tempo: float | None = None
    to: float | None = None
    curve: Curve = "linear-beats"
    throws: Fraction | None = None
    cue: str | None = None
    cue_ahead: int | None = None
    how: str = ""
    bridge: tuple[Turn, ...] | None = None
    change: int | None = None
    bar: int | None = None
    last_one: bool = False
    first: Hand | None = None

    @property
    def title(self) -> str:
        """The name, or the pattern's text."""
        return self.name or self.pattern.text


@dataclass(frozen=True, slots=True, kw_only=True)
class RestPart:
    """A stop: the hands hold what they have.

    Parameters
    ----------
    length
        How long, in beats or seconds; beats go on at the tempo of what comes next.
    name
        What it is called, such as "bow".
    cue, cue_ahead
        As in `PatternPart`; made from its name if None.
    count_in
        Beats counted at its end, before the next part; the routine's if None.
    bar
        As in `PatternPart`.
    """

    length: Length
    name: str = "rest"
    cue: str | None = None
    cue_ahead: int | None = None
    count_in: int | None = None
    bar: int | None = None

    @property
    def title(self) -> str:
        """The name."""
        return self.name


RoutinePart: TypeAlias = PatternPart | RestPart


@dataclass(frozen=True, slots=True)
class MusicBeats:
    """Where the beats of the music are.

    Parameters
    ----------
    times
        Beats in seconds of the music, in order, at least two. With two, the tempo is the same
        throughout; with more, each beat is where it is listed, and the last interval goes on.
    a_bar
        Beats in a bar; the first beat listed opens bar 1.
    throws
        Throws a beat of the music, unless a part says otherwise: 2 for two throws a beat.
    """

    times: tuple[float, ...]
    a_bar: int = 4
    throws: Fraction = Fraction(1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Routine:
    """A whole act.

    Parameters
    ----------
    title
        What it is called.
    parts
        At least one pattern; repeats are written out. Rests stand between patterns.
    tempo
        Beats a minute at the first throw, where there is no music and the first part has none;
        one that suits its highest throw if None.
    first
        The hand that begins.
    count_in
        Beats counted before the first throw, and after a rest.
    ready
        Seconds for filling the hands before anything is heard.
    music
        Where its beats are; None without music. With it, it is the music that gives the tempo.
    """

    title: str
    parts: tuple[RoutinePart, ...]
    tempo: float | None = None
    first: Hand = "right"
    count_in: int = 4
    ready: float | None = None
    music: MusicBeats | None = field(default=None)
