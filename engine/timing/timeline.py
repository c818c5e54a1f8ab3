"""A timeline as plain data: what happens on each beat, and when.

Times are seconds from the first sample of what is heard. Beat 0 is the first throw; beats of
the count-in are negative; beats of the run-out follow the last throw. A timeline is walked,
not stored, so that an endless practice costs no memory.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

ClickKind: TypeAlias = Literal["count-in", "throw", "run-out"]
ClickHands: TypeAlias = Literal["right", "left", "both"]

COUNT_IN = "count-in"
RUN_OUT = "run-out"
REST = "rest"


@dataclass(frozen=True, slots=True)
class ByHand:
    """Names (of throws in notation, or of objects) in each hand, in the order thrown."""

    right: tuple[str, ...] = ()
    left: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Click:
    """The click on a beat.

    Parameters
    ----------
    kind
        Whether it counts in, marks a throw, or marks the run-out.
    hands
        The hand or hands whose turn it is.
    accent
        Whether it opens a cycle.
    value
        The highest value thrown on the beat, for a pitch that follows it; None where nothing is
        thrown.
    """

    kind: ClickKind
    hands: ClickHands
    accent: bool = False
    value: int | None = None


@dataclass(frozen=True, slots=True)
class Beat:
    """One beat.

    Parameters
    ----------
    beat
        Index; 0 is the first throw.
    time
        Moment of release, in seconds.
    tempo
        Beats a minute in force at this beat.
    part
        The name of the part, `COUNT_IN` or `RUN_OUT`.
    cycle, cycle_beat
        Which repetition of the pattern in this part, and the beat within it, both from zero;
        None outside the parts.
    throws, objects
        What each hand throws, and which objects these are, in the same order.
    click
        None where the beat is silent.
    call
        What is said, None where nothing is.
    call_time
        Where the perceptual centre of the call falls, in seconds; None without a call.
    how
        In words, how the throws of this part are made, such as "under the leg".
    """

    beat: int
    time: float
    tempo: float
    part: str
    cycle: int | None = None
    cycle_beat: int | None = None
    throws: ByHand = ByHand()
    objects: ByHand = ByHand()
    click: Click | None = None
    call: str | None = None
    call_time: float | None = None
    how: str = ""


@dataclass(frozen=True, slots=True)
class Cue:
    """Something said at a moment of its own and not on a beat.

    Parameters
    ----------
    time
        Where it starts, in seconds.
    text
        What is said.
    change
        The first beat of what it announces while throws are made; None for what is said besides.
    seconds
        How long it takes; 0 where that was not asked.
    """

    time: float
    text: str
    change: int | None = None
    seconds: float = 0.0


@dataclass(frozen=True)
class Timeline:
    """Beats in order of time, and the cues between them.

    Parameters
    ----------
    beats
        Starts a new walk over the beats, from the first; walks are independent and equal.
    cues
        In order of time.
    seconds
        From the first sample to the last; None when the beats never end.
    words
        Everything that may be called, so that a voice can get ready; cues not among them.
    """

    beats: Callable[[], Iterator[Beat]]
    cues: tuple[Cue, ...] = ()
    seconds: float | None = None
    words: frozenset[str] = frozenset()

    def __iter__(self) -> Iterator[Beat]:
        return self.beats()
