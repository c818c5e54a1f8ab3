"""What is written to a practice log and read from it, as plain data, with its times and names.

Times are shown to people in local time, and written for programs in UTC.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cache
from types import NoneType, UnionType
from typing import Any, Final, Literal, TypeAlias, get_args, get_origin, get_type_hints

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
    props: str | None = None
    """What is juggled, empty if not told; what the session has if None."""
    goal: int | None = None
    """Catches that an attempt is to reach; None where none are asked for."""
    block: int | None = None
    """The block of a session file that it belongs to, from 1; None without a session file."""
    instead_of: int = 0
    """How many of the last sets of its block it is thrown instead of; those count for no block."""
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


FARTHEST: Final = 2**45
"""Milliseconds from 1970, over a thousand years, within which every calendar has its days."""


@dataclass(frozen=True, slots=True)
class SetOfBlock:
    """A set that a session file asked for, as far as it came."""

    block: int
    """The number of its block, from 1."""
    tempo: float
    """The tempo at which it ended, in beats a minute."""
    outcome: Mark | None
    """How it counts; None if it does not."""
    thrown: bool
    """Whether anything was thrown."""
    whole: bool
    """Whether it came to its end, planned or by a drop."""
    catches: int | None = None
    """Its catches, up to the drop where there was one; None if they are not known."""
    finished: bool = False
    """Whether it came to its planned end."""


def moment(kept: int | None) -> datetime | None:
    """Return a moment of the log in UTC; None for None.

    Raises
    ------
    ValueError
        If no calendar has that moment.
    """
    if kept is None:
        return None
    if abs(kept) > FARTHEST:
        raise ValueError(kept)
    return datetime.fromtimestamp(kept / 1000, UTC)


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
    catches: int | None
    """Objects thrown and caught, until the drop where there was one; None where that is not
    known, as for a drop that was marked after the end."""
    goal: int | None
    """Catches that it was to reach; None where none were asked for."""
    part: str
    """The part of a routine that it was; empty for a single pattern."""
    after_part: str
    """The part from which it was entered; empty where it was begun with."""
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
    best_run: int | None
    """Most catches in any set; None where no catches are known."""


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
    """A pattern with one kind of props, on one day."""

    day: date
    """The day of the local calendar."""
    pattern: str
    """The pattern in its canonical form."""
    props: str
    """What was juggled; empty if not given."""
    objects: int
    """How many objects the pattern has."""
    seconds: float
    """Seconds of throwing."""
    best_tempo: float | None
    """The fastest tempo in a clean set, in beats a minute; None without one."""
    best_run: int | None
    """Most catches in a set; None where no catches are known."""


@dataclass(frozen=True, slots=True)
class BestRun:
    """The set with most catches; of several, the first."""

    catches: int
    """Objects thrown and caught."""
    seconds: float
    """Seconds of throwing."""
    tempo: float
    """The tempo at its end, in beats a minute."""
    when: datetime
    """When it began, in UTC."""


@dataclass(frozen=True, slots=True)
class GoalMet:
    """How often a goal was met."""

    goal: str
    """``flash``, ``qualify``, or the catches as a number."""
    catches: int
    """Catches that meet it."""
    met: int
    """Sets that met it."""
    met_today: int
    """Those of them that began today."""


@dataclass(frozen=True, slots=True)
class RunRecord:
    """The runs of a pattern with one kind of props; every set is an attempt."""

    pattern: str
    """The pattern in its canonical form."""
    objects: int
    """How many objects it has."""
    props: str
    """What was juggled; empty if not given."""
    last: datetime
    """When its last set began, in UTC."""
    attempts: int
    """How many sets."""
    not_known: int
    """Dropped sets whose catches are not known: of older versions, or marked after their end."""
    seconds: float
    """Seconds of throwing."""
    best: BestRun | None
    """The best run; None where no catches are known."""
    best_before: int | None
    """Most catches in a set before today; None where none are known."""
    best_today: int | None
    """Most catches in a set of today; None where none are known."""
    attempts_today: int
    """How many of the sets began today."""
    seconds_today: float
    """Seconds of throwing today."""
    asked: int
    """Sets that had a goal of their own."""
    reached: int
    """Those of them that met it."""
    goals: tuple[GoalMet, ...]
    """Flash, qualifying run, the usual runs and all that were asked for; the fewest catches
    first."""


@dataclass(frozen=True, slots=True)
class PartRecord:
    """A part of a routine, over all times that it was thrown."""

    file: str
    """The routine file; empty if it is not known."""
    part: str
    """The name of the part."""
    times: int
    """How often it was thrown."""
    drops: int
    """How often it was dropped."""


@dataclass(frozen=True, slots=True)
class ChangeRecord:
    """A change from one part of a routine to the next, over all times that it was made."""

    file: str
    """The routine file; empty if it is not known."""
    after_part: str
    """The part that is left."""
    part: str
    """The part that it leads to."""
    times: int
    """How often it was made."""
    drops: int
    """How often there was a drop before a qualifying run of the part that it leads to."""


@dataclass(frozen=True, slots=True)
class LastHeld:
    """The last clean set of a pattern."""

    tempo: float
    """The tempo at its end, in beats a minute."""
    when: datetime
    """When it began, in UTC."""
    catches: int | None
    """Objects thrown and caught; None where that is not known."""


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


def day_began(moment: datetime) -> datetime:
    """Return the moment at which the local day of `moment` began."""
    midnight = moment.astimezone().replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
    return midnight.astimezone()  # whose offset from UTC may be another one


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


def impossible(record: type, fields: Mapping[str, object]) -> str | None:
    """Return the name of a field whose value a record of that type cannot have; None if all can.

    SQLite keeps a text in a column of numbers without complaint.
    """
    kinds = _kinds(record)
    for name, value in fields.items():
        fits = isinstance(value, kinds[name])
        if not fits or (isinstance(value, float) and not math.isfinite(value)):
            return name
    return None


@cache
def _kinds(record: type) -> dict[str, tuple[type, ...]]:
    return {name: tuple(_types(hint)) for name, hint in get_type_hints(record).items()}


def _types(hint: object) -> set[type]:
    """Return the types of which one must be that of a value with this annotation."""
    if get_origin(hint) is UnionType:
        return {each for option in get_args(hint) for each in _types(option)}
    if get_origin(hint) is Literal:
        return {str}
    if hint is float:
        return {float, int}
    plain = {int, str, bool, datetime, date, NoneType}
    return {each for each in plain if each is hint} or {object}
