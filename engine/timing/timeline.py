"""A timeline as plain data: what happens on each beat, and when.

Times are in seconds from the first sample of what is heard. Beat 0 is the first throw; beats of
the count-in are negative; beats of the run-out follow the last throw. Beats are generated, not
stored, so an endless practice needs no more memory than a short one.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple, TypeAlias

from throwcount.engine.patterns.pattern import Hand

ClickKind: TypeAlias = Literal["count-in", "throw", "run-out"]
ClickHands: TypeAlias = Literal["right", "left", "both"]

CallKind: TypeAlias = Literal["count", "manner", "last cycle", "milestone", "hand change", "stop"]

COUNT_IN = "count-in"
RUN_OUT = "run-out"
REST = "rest"


class ByHand(NamedTuple):
    """Names (of throws in notation, or of objects) in each hand, in the order thrown."""

    right: tuple[str, ...] = ()
    left: tuple[str, ...] = ()


class Click(NamedTuple):
    """The click on a beat."""

    kind: ClickKind
    """Whether it counts in, marks a throw, or marks the run-out."""
    hands: ClickHands
    """The hand or hands whose turn it is."""
    accent: bool = False
    """Whether it opens a cycle."""
    value: int | None = None
    """The highest value thrown on the beat, for a pitch that follows it; None where nothing
    is thrown."""


class Beat(NamedTuple):
    """One beat."""

    beat: int
    """Index; 0 is the first throw."""
    time: float
    """Moment of release, in seconds."""
    tempo: float
    """Beats a minute in force at this beat."""
    part: str
    """The name of the part, `COUNT_IN` or `RUN_OUT`."""
    cycle: int | None = None
    """Which repetition of the pattern in this part, from zero; None outside the parts."""
    cycle_beat: int | None = None
    """The beat within the cycle, from zero; None outside the parts."""
    throws: ByHand = ByHand()
    """What each hand throws."""
    objects: ByHand = ByHand()
    """Which objects these are, in the same order."""
    click: Click | None = None
    """What clicks; None where the beat is silent."""
    call: str | None = None
    """What is said; None for nothing."""
    call_time: float | None = None
    """Where the perceptual centre of the call falls, in seconds; None without a call."""
    how: str = ""
    """How the throws of this part are made, in words, such as "second 5 under the leg"."""
    hurried: tuple[Hand, ...] = ()
    """The hands that throw a beat early or late, at a change of timing."""
    pick_up: ByHand = ByHand()
    """The objects that each hand takes up."""
    put_down: ByHand = ByHand()
    """The objects that each hand puts down."""
    call_kind: CallKind = "count"
    """Whether its call, if it has one, is part of the count, a manner, or something that is never
    left out."""
    manners: ByHand = ByHand()
    """How each hand makes each of its throws, in words, empty for those made as the others; no
    words at all for a hand that makes none in a manner of its own."""


@dataclass(frozen=True, slots=True)
class Cue:
    """Something said at a time of its own and not on a beat."""

    time: float
    """Where it starts, in seconds."""
    text: str
    """What is said."""
    change: int | None = None
    """The first beat of the change that it announces; None if it announces none."""
    seconds: float = 0.0
    """How long it takes; 0 if that is not known."""


@dataclass(frozen=True)
class Timeline:
    """Beats in order of time, and the cues between them."""

    beats: Callable[[], Iterator[Beat]]
    """Returns a new iterator over the beats, from the first; all are independent and equal."""
    cues: tuple[Cue, ...] = ()
    """What else is said, in order of time."""
    seconds: float | None = None
    """The length from the first sample to the last; None if the beats never end."""
    words: frozenset[str] = frozenset()
    """Everything that may be called, cues excepted, so that a voice can prepare it."""
    seldom: frozenset[str] = frozenset()
    """What of it comes seldom, and is never left out where calls thin out."""
    shorter: Mapping[str, str] = field(default_factory=dict)
    """Fewer words for some of the calls, for where there is no time for all of them."""
    unhurried: Mapping[str, float] = field(default_factory=dict)
    """The seconds that some calls of several words take at least, so as not to be hurried."""

    def __iter__(self) -> Iterator[Beat]:
        return self.beats()


def has_throws(beat: Beat) -> bool:
    """Return whether some hand has its turn on a beat."""
    return bool(beat.throws.right or beat.throws.left)


def is_shown(beat: Beat) -> bool:
    """Return whether a beat is displayed: all are but the second beat of a synchronous turn."""
    return beat.cycle is None or has_throws(beat)


def notation(beat: Beat) -> str:
    """Return the throws of a beat in notation; empty for none."""
    left, right = at_once(beat.throws.left), at_once(beat.throws.right)
    return f"({left},{right})" if left and right else left or right


def at_once(throws: tuple[str, ...]) -> str:
    """Return the throws of one hand on a beat in notation; empty for none."""
    return throws[0] if len(throws) == 1 else f"[{''.join(throws)}]" if throws else ""


def own_manner(beat: Beat, *hands: Hand) -> str:
    """Return how hands make their throws on a beat, where that is in a manner of their own."""
    made = (manner for hand in hands for manner in getattr(beat.manners, hand))
    return ", ".join(dict.fromkeys(filter(None, made)))
