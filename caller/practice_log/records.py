"""What is written to a practice log, and what is read from it, as plain data."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal, TypeAlias

from engine.patterns.pattern import Hand, Pattern
from engine.practising.marks import Mark

Ending: TypeAlias = Literal["finished", "stopped"]
"""How a set ended: at its planned end, or because the juggler stopped it."""

Status: TypeAlias = Literal["finished", "stopped", "open", "interrupted"]
"""A set that was never ended is open, or interrupted when nothing was heard of it for a while."""


@dataclass(frozen=True, slots=True)
class Plan:
    """A set that is about to begin.

    Parameters
    ----------
    pattern
        A pattern that can be thrown, as it was asked for.
    tempo
        Of its first throw, in beats a minute.
    beats
        How long its throws are to go on; None without end.
    first
        The hand of beat 0 where the hands alternate.
    """

    pattern: Pattern
    tempo: float
    beats: int | None = None
    first: Hand = "right"


@dataclass(frozen=True, slots=True)
class Thrown:
    """How far a set has come.

    Parameters
    ----------
    beats
        Thrown from its first throw on, 0 or more.
    seconds
        Spent on them, without pauses.
    tempo
        In force now, in beats a minute.
    """

    beats: int
    seconds: float
    tempo: float


@dataclass(frozen=True, slots=True)
class MarkGiven:
    """A mark as it was given; `beat` is None outside the throws of the set."""

    mark: Mark
    moment: datetime
    beat: int | None
    given_by: str


@dataclass(frozen=True, slots=True)
class SetKept:
    """A set as the log has it.

    Parameters
    ----------
    number, session
        Of the set and of its session, counted from 1 in the order begun.
    started, ended
        In UTC; `ended` is None for a set that is open or was interrupted.
    status
        Whether it ended, and how.
    outcome
        How it counts; None if it does not.
    pattern, written
        The canonical form, which names the pattern, and the text that was asked for.
    objects, cycle_beats
        Of the pattern; a cycle as written.
    props
        Empty where it was not told.
    first
        The hand of beat 0 where the hands alternate.
    tempo_start, tempo_end, tempo_fastest
        In beats a minute.
    beats_planned, beats_thrown
        None planned for a set without end.
    seconds
        Of throwing, without pauses.
    marks
        In the order given.
    """

    number: int
    session: int
    started: datetime
    ended: datetime | None
    status: Status
    outcome: Mark | None
    pattern: str
    written: str
    objects: int
    cycle_beats: int
    props: str
    first: Hand
    tempo_start: float
    tempo_end: float
    tempo_fastest: float
    beats_planned: int | None
    beats_thrown: int
    seconds: float
    marks: tuple[MarkGiven, ...]


@dataclass(frozen=True, slots=True)
class SessionKept:
    """A session with its sets added up.

    Parameters
    ----------
    number
        Counted from 1 in the order begun.
    started, ended
        In UTC. Where the session was not ended, `ended` is the last that is known of its sets,
        and `whole` is false.
    whole
        Whether it was ended.
    props, device
        Empty where they were not told.
    patterns, sets, clean, drops
        How many different patterns, how many sets, and how many of these counted as what.
    seconds
        Of throwing, without pauses and rests.
    """

    number: int
    started: datetime
    ended: datetime
    whole: bool
    props: str
    device: str
    patterns: int
    sets: int
    clean: int
    drops: int
    seconds: float


@dataclass(frozen=True, slots=True)
class PatternKept:
    """A pattern with one kind of props, over all its sets.

    Parameters
    ----------
    pattern
        In its canonical form.
    objects, props
        How many, and of what kind; empty where it was not told.
    sets, clean, drops
        How many sets, and how many of these counted as what.
    seconds
        Of throwing.
    best_tempo, last_tempo
        The fastest in any clean set, and the one held at the end of the last clean set; None
        without a clean set.
    longest_run
        Beats of the longest clean set.
    longest_row
        Clean sets in a row, at most; sets that do not count do not end a row.
    last
        When its last set began, in UTC.
    """

    pattern: str
    objects: int
    props: str
    sets: int
    clean: int
    drops: int
    seconds: float
    best_tempo: float | None
    last_tempo: float | None
    longest_run: int
    longest_row: int
    last: datetime


@dataclass(frozen=True, slots=True)
class Totals:
    """Everything added up; `first` and `last` are when a set began, None without any."""

    sessions: int
    patterns: int
    sets: int
    clean: int
    drops: int
    seconds: float
    first: datetime | None
    last: datetime | None


@dataclass(frozen=True, slots=True)
class DayKept:
    """A pattern on one day of the local calendar, such as ``2026-03-31``.

    `best_tempo` is the fastest in a clean set of that day, None without one.
    """

    day: str
    pattern: str
    seconds: float
    best_tempo: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeTold:
    """What a recording told.

    Parameters
    ----------
    file
        Its name, without its folder.
    title
        What it was held against; empty for nothing.
    pattern
        In its canonical form; empty where none is known, or there are several.
    props
        Empty where it was not told.
    seconds
        Its length.
    heard, expected
        Catches that were heard, of how many.
    tempo_asked, tempo
        In beats a minute, or catches a minute where nothing was asked for; None where nothing
        tells.
    asynchrony_sd, interval_sd
        How steady it was, in seconds; None where nothing tells.
    right_later
        How much later the right hand caught than the left, in seconds; None where nothing tells.
    drops
        Gaps that look like one.
    sureness
        The chance that all this is right, 0 to 1.
    report
        The rest, as JSON has it.
    """

    file: str
    title: str
    pattern: str
    props: str
    seconds: float
    heard: int
    expected: int
    tempo_asked: float | None
    tempo: float | None
    asynchrony_sd: float | None
    interval_sd: float | None
    right_later: float | None
    drops: int
    sureness: float
    report: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeKept:
    """A take as the log has it.

    Parameters
    ----------
    number
        Counted from 1 in the order kept.
    kept
        When it was listened to, in UTC.
    told
        What it told.
    """

    number: int
    kept: datetime
    told: TakeTold


def milliseconds(moment: float) -> int:
    """Return seconds since 1970 as the log keeps them."""
    return round(moment * 1000)


def moment(kept: int | None) -> datetime | None:
    """Return a moment of the log in UTC, if there is one."""
    return None if kept is None else datetime.fromtimestamp(kept / 1000, UTC)
