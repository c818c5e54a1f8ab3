"""A run as plain data: which patterns, how long, how fast, and what is said."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias, get_args

from engine.pattern import Hand, Pattern
from engine.tempo import TempoMap
from engine.timeline import Cue

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
    """How the count and the clicks drop out and come back; see `engine.fading`.

    Parameters
    ----------
    calls, clicks
        Cycles of the longest stretch without them; 0 where they stay.
    """

    calls: int = 0
    clicks: int = 0


@dataclass(frozen=True, slots=True)
class Part:
    """One pattern for a number of beats.

    Parameters
    ----------
    pattern
        A pattern that can be thrown.
    beats
        How long its throws go on; None never ends, and only the last part may.
    name
        What the part is called in a timeline; the pattern's text unless given.
    """

    pattern: Pattern
    beats: int | None
    name: str = ""

    @property
    def title(self) -> str:
        """The name, or the pattern's text."""
        return self.name or self.pattern.text


@dataclass(frozen=True, slots=True)
class Run:
    """From hands being filled to the last catch.

    Parameters
    ----------
    parts
        At least one; each must take over the objects as the one before leaves them.
    tempo
        Over the beats from the first throw on.
    first
        The hand of beat 0 where the hands alternate.
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
    last_cycle
        What is said where the last cycle begins, in place of its first call; empty for nothing.
    fading
        How the count and the clicks drop out and come back.
    prelude
        What is said while the hands are filled, in order of time; over before `ready` is.
    """

    parts: tuple[Part, ...]
    tempo: TempoMap
    first: Hand = "right"
    ready: float = 1.0
    announcement: str = ""
    announcement_seconds: float = 0.0
    count_in: int = 4
    say: SayMode = "values"
    wording: Wording = field(default_factory=Wording)
    lead: int = 0
    last_cycle: str = ""
    fading: Fading = field(default_factory=Fading)
    prelude: tuple[Cue, ...] = ()
