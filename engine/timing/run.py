"""A run as plain data: which patterns, how long, how fast, and what is said.

`Clock` gives the time of each beat of a run, in seconds from the first sample, and `Places` the
part that a beat belongs to.
"""

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import accumulate
from typing import TYPE_CHECKING, Final, Literal, NamedTuple, TypeAlias, get_args

from throwcount.engine.patterns.pattern import Hand, Pattern, Site
from throwcount.engine.timing.manners import Manner

if TYPE_CHECKING:
    from throwcount.engine.timing.tempo import TempoMap
    from throwcount.engine.timing.timeline import Cue

SayMode: TypeAlias = Literal["values", "position", "hands", "objects", "tally", "nothing"]
SAY_MODES: tuple[SayMode, ...] = get_args(SayMode)

LetterWords: TypeAlias = Literal["plain", "spelled"]
LETTER_WORDS: tuple[LetterWords, ...] = get_args(LetterWords)


@dataclass(frozen=True, slots=True)
class Wording:
    """The words for throws."""

    own_words: Mapping[str, str] = field(default_factory=dict)
    """The juggler's own words for throws as they are written, such as ``{"2": "hold"}``. A value
    stands for its crossing throw too, unless that has words of its own, as in ``{"4x": "over"}``.
    """
    letters: LetterWords | None = None
    """Whether values from 10 up are called by their letter, "plain" or by its word in the spelling
    alphabet; by their number if None."""
    object_names: tuple[str, ...] = ()
    """The juggler's own names for objects A, B, C ..., in this order; the others keep their
    letters."""


@dataclass(frozen=True, slots=True)
class Fading:
    """The fading of calls and clicks, which drop out and come back."""

    calls: int = 0
    """Cycles of the longest stretch without calls; 0 if they stay."""
    clicks: int = 0
    """Cycles of the longest stretch without clicks; 0 if they stay."""


class HandChange(NamedTuple):
    """A hand that throws a beat early or late where the timing changes."""

    hand: Hand
    how: Literal["wait", "hurry"]
    since: int
    """The beat on which it does, counted from the beginning of the part."""

    @property
    def told(self) -> int:
        """The beat before the one on which it waits or hurries, counted in the same way."""
        return self.since - (2 if self.how == "wait" else 1)


@dataclass(frozen=True, slots=True)
class Part:
    """One pattern for a number of beats, or the throws that lead from one pattern to another."""

    pattern: Pattern
    """A pattern that can be thrown, or the throws that lead to the next part."""
    beats: int | None
    """Its length; None if it never ends, as only the last part may."""
    name: str = ""
    """What the part is called in a timeline; the pattern's text unless given."""
    how: str = ""
    """How its throws are made, in words, single throws included."""
    manners: tuple[Manner, ...] = ()
    """How single throws of its cycle are made; of several that fit a throw, the first counts."""
    last_cycle: str = ""
    """What is said in place of the first call of its last cycle; empty for nothing."""
    first: Hand | None = None
    """The hand of its first beat if the hands alternate; if None, the next one in turn, or that of
    the run at its beginning."""
    leads: bool = False
    """Whether its throws are made once, from the state before it to that of the part after it."""
    taken_up: tuple[Site, ...] = ()
    """Turns, since the part began, and places at which a hand throws an object that was not in
    play before."""
    put_down: tuple[Site, ...] = ()
    """Turns and places at which a hand puts down the object that is due."""
    kept: tuple[Site, ...] = ()
    """Turns and places at which a hand waits: it keeps what is due, if anything, for a beat."""
    into_pairs: bool = False
    """Whether hands that alternate here throw together right after it. An x then tells the hand of
    a throw that lands there."""
    hand_change: HandChange | None = None
    """The hand that waits or hurries as the part begins; None if the timing does not change."""

    @property
    def title(self) -> str:
        """The name, or the pattern's text."""
        return self.name or self.pattern.text


@dataclass(frozen=True, slots=True)
class Rest:
    """A stop between two parts: everything is caught, and the next part is counted in."""

    beats: int
    """Its length, at least until the last object is caught."""
    name: str = "rest"
    """What it is called in a timeline."""
    count_in: int = 4
    """Beats at its end that are counted, as far as the catches before leave room."""

    @property
    def title(self) -> str:
        """The name."""
        return self.name


@dataclass(frozen=True, slots=True)
class CueText:
    """The announcement of a change, which has to be over before it."""

    change: int
    """The beat that it announces."""
    text: str
    """What is said."""
    paces: tuple[float, ...]
    """How many seconds that takes at each pace of the voice, the slowest first."""
    since: int
    """The beat of the previous change, the earliest on which it may begin."""
    over: int
    """The beat by which it is over, at most `change`: that of the last throw before a rest, or the
    first of a count-in."""
    last_cycle: int | None = None
    """The beat on which the last cycle is called, which it must not cover; None for none."""
    ahead: int | None = None
    """How many beats before the change it begins; as late as it fits if None."""
    shorter: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    """What may be said instead where there is no time for that, the fullest text first, each with
    its paces."""
    unsayable: str = ""
    """The author's own words for it, if no voice can say them; else empty."""


@dataclass(frozen=True, slots=True)
class Run:
    """All that happens from the filling of the hands to the last catch."""

    parts: tuple[Part | Rest, ...]
    """At least one part, perhaps with rests between parts. A part takes over the objects as the
    one before leaves them, but for those it takes up or puts down. After a rest the objects are
    shared out again."""
    tempo: "TempoMap"
    """The tempo over the beats from the first throw on."""
    first: Hand = "right"
    """The hand of beat 0, and of the first beat after a rest, if the hands alternate."""
    ready: float = 1.0
    """Seconds for filling the hands, before anything is heard."""
    announcement: str = ""
    """What is said after that; empty for nothing."""
    announcement_seconds: float = 0.0
    """How long saying it takes."""
    count_in: int = 4
    """Beats counted before the first throw, 0 or more."""
    say: SayMode = "values"
    """What is called on the beats."""
    milestones: bool | None = None
    """Whether "flash" and "qualified" are called; with a tally alone if None."""
    goal: int | None = None
    """Catches whose number is called with them; None for none."""
    stop_word: bool = True
    """Whether the last throw is called "stop"."""
    wording: Wording = field(default_factory=Wording)
    """The words for throws."""
    lead: int = 0
    """Beats by which a call comes before its throw, except the final "stop"; 0 or more, and at most
    `count_in` if the first throws are to be called too."""
    fading: Fading = field(default_factory=Fading)
    """The fading of calls and clicks."""
    prelude: "tuple[Cue, ...]" = ()
    """What is said while the hands are filled, in order of time; it ends before `ready` does."""
    cues: tuple[CueText, ...] = ()
    """The announcements of the changes, in order of the beat."""

    @property
    def throwing(self) -> tuple[Part, ...]:
        """The parts without the rests."""
        return tuple(part for part in self.parts if isinstance(part, Part))

    @property
    def opening(self) -> Part:
        """The first part that is not a rest."""
        return self.throwing[0]

    @property
    def closing(self) -> Part:
        """The last part that is not a rest."""
        return self.throwing[-1]


SHORTEST_LEAD_IN: Final = 0.25
"""Seconds before the first beat, at least, as a word begins before the beat of its centre."""

PAUSE_AFTER_ANNOUNCEMENT: Final = 0.5
"""Seconds."""


@dataclass(frozen=True, slots=True)
class Clock:
    """The time of each beat, in seconds from the first sample."""

    run: Run
    first_throw: float

    def time_at(self, beat: int) -> float:
        """Return the time of `beat`; beat 0 is the first throw."""
        return self.first_throw + self.run.tempo.time_at(beat)

    def beat_at(self, seconds: float) -> float:
        """Return the beat at a time: the inverse of `time_at`."""
        return self.run.tempo.beat_at(seconds - self.first_throw)


def clock_of(run: Run) -> Clock:
    """Return the clock of a run."""
    announced = run.announcement_seconds + PAUSE_AFTER_ANNOUNCEMENT if run.announcement else 0.0
    counted = -run.tempo.time_at(-run.count_in)
    return Clock(run, max(run.ready + announced, SHORTEST_LEAD_IN) + counted)


@dataclass(frozen=True, slots=True)
class PartPlace:
    """A part of a run, and where it begins."""

    index: int
    """Its index among the parts of the run, from zero."""
    part: Part | Rest
    """The part itself."""
    first: int
    """Its first beat."""

    @property
    def end(self) -> int | None:
        """The first beat after it; None if it never ends."""
        return None if self.part.beats is None else self.first + self.part.beats


class Places:
    """The parts of a run by their beats."""

    def __init__(self, run: Run) -> None:
        self._parts = run.parts
        self._firsts = list(accumulate((part.beats or 0 for part in run.parts[:-1]), initial=0))

    def at(self, beat: float) -> PartPlace:
        """Return the part of a beat: the first in the count-in, the last in the run-out."""
        return self[max(bisect_right(self._firsts, beat) - 1, 0)]

    def after(self, place: PartPlace) -> PartPlace | None:
        """Return the part after another; None after the last."""
        following = place.index + 1
        return self[following] if following < len(self._parts) else None

    def __getitem__(self, index: int) -> PartPlace:
        return PartPlace(index, self._parts[index], self._firsts[index])
