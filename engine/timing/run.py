"""A run as plain data: which patterns, how long, how fast, and what is said."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias, get_args

from engine.patterns.pattern import Hand, Pattern, Site
from engine.timing.tempo import TempoMap
from engine.timing.timeline import REST, Cue

SayMode: TypeAlias = Literal["values", "position", "hands", "objects", "tally", "nothing"]
SAY_MODES: tuple[SayMode, ...] = get_args(SayMode)


@dataclass(frozen=True, slots=True)
class Wording:
    """How throws are put in words.

    Parameters
    ----------
    own_words
        The juggler's own word for a throw value, such as ``{2: "hold"}``.
    letters
        Whether values from 10 up are called by their letter and not by their number.
    object_names
        The juggler's own names for objects A, B, C ... in this order; those left over keep
        their letters.
    """

    own_words: Mapping[int, str] = field(default_factory=dict)
    letters: bool = False
    object_names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Fading:
    """How the count and the clicks drop out and come back; see `engine.calling.fading`.

    Parameters
    ----------
    calls, clicks
        Cycles of the longest stretch without them; 0 where they stay.
    """

    calls: int = 0
    clicks: int = 0


@dataclass(frozen=True, slots=True)
class Part:
    """One pattern for a number of beats, or the throws that lead from one pattern to another.

    Parameters
    ----------
    pattern
        A pattern that can be thrown, or the throws that lead to the next part.
    beats
        How long its throws go on; None never ends, and only the last part may.
    name
        What the part is called in a timeline; the pattern's text unless given.
    how
        In words, how its throws are made.
    last_cycle
        What is said where its last cycle begins, in place of the first call; empty for nothing.
    first
        The hand of its first beat where it follows a rest and the hands alternate; that of the
        run if None.
    leads
        Whether its throws are made once, from the state before it to that of the part after it.
    taken_up
        Turns, since the part began, and places in which a hand throws an object that was not in
        play before.
    put_down
        Turns and places in which a hand puts down the object that is due.
    """

    pattern: Pattern
    beats: int | None
    name: str = ""
    how: str = ""
    last_cycle: str = ""
    first: Hand | None = None
    leads: bool = False
    taken_up: tuple[Site, ...] = ()
    put_down: tuple[Site, ...] = ()

    @property
    def title(self) -> str:
        """The name, or the pattern's text."""
        return self.name or self.pattern.text


@dataclass(frozen=True, slots=True)
class Rest:
    """A stop between two parts: everything is caught, and the next part is counted in.

    Parameters
    ----------
    beats
        How long it lasts, at least until the last object is caught.
    name
        What it is called in a timeline.
    count_in
        Of its beats, those at its end that are counted, as far as the catches leave room.
    """

    beats: int
    name: str = REST
    count_in: int = 4

    @property
    def title(self) -> str:
        """The name."""
        return self.name


@dataclass(frozen=True, slots=True)
class CueText:
    """What announces a change, and has to be over before it.

    Parameters
    ----------
    change
        The beat that it announces.
    text
        What is said.
    paces
        How many seconds that takes, at each pace of the voice, the slowest first.
    since
        The beat of the change before, from which on it may begin.
    over
        The beat by which it is over, at most `change`: that of the last throw before a rest, or
        the first of a count-in.
    last_cycle
        The beat on which the last cycle is called in between, which it leaves alone; None for
        none.
    ahead
        Beats before the change by which it begins; as late as it fits if None.
    """

    change: int
    text: str
    paces: tuple[float, ...]
    since: int
    over: int
    last_cycle: int | None = None
    ahead: int | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """From hands being filled to the last catch.

    Parameters
    ----------
    parts
        At least one, with rests between them, if any; a part takes over the objects as the one
        before leaves them, but for those it takes up or puts down. After a rest the objects are
        shared out anew.
    tempo
        Over the beats from the first throw on.
    first
        The hand of beat 0, and of the first beat after a rest, where the hands alternate.
    ready
        Seconds for filling the hands, before anything is heard.
    announcement
        What is said then; empty for nothing.
    announcement_seconds
        How long saying it takes.
    count_in
        Beats counted before the first throw, 0 or more.
    say
        What is called on the beats.
    wording
        How throws are put in words.
    lead
        Beats by which a call comes before its throw, all but the final "stop"; 0 or more, at most
        `count_in` to have the first throws called too.
    fading
        How the count and the clicks drop out and come back.
    prelude
        What is said while the hands are filled, in order of time; over before `ready` is.
    cues
        What announces the changes, in order of the beat.
    """

    parts: tuple[Part | Rest, ...]
    tempo: TempoMap
    first: Hand = "right"
    ready: float = 1.0
    announcement: str = ""
    announcement_seconds: float = 0.0
    count_in: int = 4
    say: SayMode = "values"
    wording: Wording = field(default_factory=Wording)
    lead: int = 0
    fading: Fading = field(default_factory=Fading)
    prelude: tuple[Cue, ...] = ()
    cues: tuple[CueText, ...] = ()

    @property
    def throwing(self) -> tuple[Part, ...]:
        """The parts without the rests."""
        return tuple(part for part in self.parts if isinstance(part, Part))

    @property
    def opening(self) -> Part:
        """The first part in which something is thrown."""
        return self.throwing[0]

    @property
    def closing(self) -> Part:
        """The last part in which something is thrown."""
        return self.throwing[-1]
