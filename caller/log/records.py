"""What is written to a practice log and read from it, as plain data, with its times and names.

Times are shown to people in local time, and written for programs in UTC.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final, Literal, TypeAlias

from throwcount.engine.patterns.pattern import Hand, Pattern
from throwcount.engine.practice.tempo_rules import Mark

Ending: TypeAlias = Literal["finished", "stopped"]
"""How a set ended: at its planned end, or because the juggler stopped it."""

Status: TypeAlias = Literal["finished", "stopped", "open", "interrupted"]
"""A set without an end is open, or interrupted if nothing has been kept of it for a while."""


@dataclass(frozen=True, slots=True)
class Plan:
    """A set that is about to begin."""

    pattern: Pattern
    """A pattern that can be thrown, as it was asked for."""
    tempo: float
    """Tempo of its first throw, in beats a minute."""
    beats: int | None = None
    """Beats for which it is to be thrown; None without end."""
    first: Hand = "right"
    """The hand of beat 0 where the hands alternate."""
    goal: int | None = None
    """Catches that an attempt is to reach; None where none are asked for."""
    block: int | None = None
    """The block of a session file that it belongs to, from 1; None without a session file."""
    part: str = ""
    """The part of a routine that it is; empty for a single pattern."""
    after_part: str = ""
    """The part of the routine from which it was entered; empty where it was begun with."""


@dataclass(frozen=True, slots=True)
class Thrown:
    """How far a set has come."""

    beats: int
    """Beats thrown from its first throw on, 0 or more."""
    seconds: float
    """Seconds spent on them, without pauses."""
    tempo: float
    """The present tempo, in beats a minute."""
    catches: int = 0
    """Objects thrown and caught, up to the drop where there was one."""


def moment(kept: int | None) -> datetime | None:
    """Return a moment of the log in UTC; None for None."""
    return None if kept is None else datetime.fromtimestamp(kept / 1000, UTC)


@dataclass(frozen=True, slots=True)
class MarkGiven:
    """A mark as it was given; `beat` is None outside the throws of the set."""

    mark: Mark
    moment: datetime
    beat: int | None
    given_by: str


@dataclass(frozen=True, slots=True)
class SetRecord:
    """A set as the log has it."""

    number: int
    """The number of the set, from 1 in the order begun."""
    session: int
    """The number of its session, from 1 in the order begun."""
    started: datetime
    """When it began, in UTC."""
    ended: datetime | None
    """When it ended, in UTC; None for a set that is open or was interrupted."""
    status: Status
    """Whether it ended, and how."""
    outcome: Mark | None
    """How it counts; None if it does not."""
    pattern: str
    """The canonical form, which names the pattern."""
    written: str
    """The text that was asked for."""
    objects: int
    """How many objects the pattern has."""
    cycle_beats: int
    """Beats in a cycle as written."""
    props: str
    """What was juggled; empty if not given."""
    first: Hand
    """The hand of beat 0 where the hands alternate."""
    tempo_start: float
    """Tempo at the start, in beats a minute."""
    tempo_end: float
    """Tempo at the end, in beats a minute."""
    tempo_fastest: float
    """The fastest tempo, in beats a minute."""
    beats_planned: int | None
    """Beats that were to be thrown; None for a set without end."""
    beats_thrown: int
    """Beats that were thrown."""
    seconds: float
    """Seconds of throwing, without pauses."""
    marks: tuple[MarkGiven, ...]
    """The marks, in the order given."""


@dataclass(frozen=True, slots=True)
class SessionRecord:
    """A session with its sets added up."""

    number: int
    """Counted from 1 in the order begun."""
    started: datetime
    """When it began, in UTC."""
    ended: datetime
    """When it ended, in UTC; where it was not ended, the last that is known of its sets."""
    whole: bool
    """Whether it was ended."""
    props: str
    """What was juggled; empty if not given."""
    device: str
    """What it was heard on; empty if not given."""
    patterns: int
    """How many different patterns."""
    sets: int
    """How many sets."""
    clean: int
    """How many of the sets count as clean."""
    drops: int
    """How many of the sets count as dropped."""
    seconds: float
    """Seconds of throwing, without pauses and rests."""


@dataclass(frozen=True, slots=True)
class PatternRecord:
    """A pattern with one kind of props, over all its sets."""

    pattern: str
    """The pattern in its canonical form."""
    objects: int
    """How many objects it has."""
    props: str
    """What was juggled; empty if not given."""
    sets: int
    """How many sets."""
    clean: int
    """How many of the sets count as clean."""
    drops: int
    """How many of the sets count as dropped."""
    seconds: float
    """Seconds of throwing."""
    best_tempo: float | None
    """The fastest tempo in any clean set, in beats a minute; None without a clean set."""
    last_tempo: float | None
    """The tempo held at the end of the last clean set, in beats a minute; None without one."""
    longest_run: int
    """Beats of the longest clean set."""
    longest_row: int
    """Clean sets in a row, at most; sets that do not count do not end a row."""
    last: datetime
    """When its last set began, in UTC."""


@dataclass(frozen=True, slots=True)
class Totals:
    """Sums over all sets; `first` and `last` are when sets began, None without any."""

    sessions: int
    patterns: int
    sets: int
    clean: int
    drops: int
    seconds: float
    first: datetime | None
    last: datetime | None


@dataclass(frozen=True, slots=True)
class DayRecord:
    """A pattern on one day of the local calendar, such as ``2026-03-31``.

    `best_tempo` is the fastest in a clean set of that day, None without one.
    """

    day: str
    pattern: str
    seconds: float
    best_tempo: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeSummary:
    """What a recording tells."""

    file: str
    """Its name, without its folder."""
    title: str
    """What it was compared with; empty for nothing."""
    pattern: str
    """The pattern in its canonical form; empty where none is known, or there are several."""
    props: str
    """What was juggled; empty if not given."""
    seconds: float
    """Its length."""
    heard: int
    """Catches that were heard."""
    expected: int
    """Catches that were expected, heard or not."""
    tempo_asked: float | None
    """The tempo asked for, in beats a minute; None if there was none."""
    tempo: float | None
    """The tempo kept, in beats a minute, or in catches a minute if none was asked for; None if
    unknown."""
    asynchrony_sd: float | None
    """The sd of the asynchronies, in seconds; None if unknown."""
    interval_sd: float | None
    """The sd of the intervals, in seconds; None if unknown."""
    right_later: float | None
    """How much later the right hand caught than the left, in seconds; None if unknown."""
    drops: int
    """Gaps that look like a drop."""
    confidence: float
    """The chance that all this is right, 0 to 1."""
    report: Mapping[str, Any]
    """The rest, as JSON has it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeRecord:
    """A take as the log has it."""

    number: int
    """Counted from 1 in the order kept."""
    kept: datetime
    """When it was listened to, in UTC."""
    summary: TakeSummary
    """What the take tells."""


def milliseconds(moment: float) -> int:
    """Return seconds since 1970 as the log keeps them."""
    return round(moment * 1000)


def local_day(moment: datetime) -> str:
    """Return a day of the local calendar, such as ``2026-03-31``."""
    return f"{moment.astimezone():%Y-%m-%d}"


def local_minute(moment: datetime) -> str:
    """Return a local time, such as ``2026-03-31 18:05``."""
    return f"{moment.astimezone():%Y-%m-%d %H:%M}"


def utc_text(moment: datetime | None) -> str | None:
    """Return a moment in UTC by ISO 8601, to the millisecond: ``2026-03-31T16:05:00.000Z``."""
    if moment is None:
        return None
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


LONGEST_NAME: Final = 60


def tidied(name: str) -> str:
    """Return any text as a name: lower case, one line, at most `LONGEST_NAME` characters."""
    shown = "".join(char if char.isprintable() else " " for char in name)
    return " ".join(shown.lower().split())[:LONGEST_NAME].rstrip()
