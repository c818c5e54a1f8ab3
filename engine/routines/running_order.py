"""The running order of a routine: when each part comes, how high it goes, what may go wrong."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal, TypeAlias

from throwcount.engine.numbers import counted
from throwcount.engine.patterns.flight import NO_CEILING, Room, tempo_warnings
from throwcount.engine.patterns.pattern import Hand, Pattern, Throw
from throwcount.engine.patterns.states import start
from throwcount.engine.routines.joining import Joining
from throwcount.engine.routines.layout import LaidOut, LaidPart
from throwcount.engine.routines.pick_ups import free_beats
from throwcount.engine.routines.routine import PatternPart, music_beat_at
from throwcount.engine.routines.routine_run import bridge_title, music_begins
from throwcount.engine.scheduling.cues import CueCall, cue_calls
from throwcount.engine.scheduling.scheduler import Chapter, chapters_of, seconds_of
from throwcount.engine.timing.manners import Manner, narrowest_first, never_made
from throwcount.engine.timing.run import Run, clock_of

EntryKind: TypeAlias = Literal["part", "bridge", "rest"]
ConcernKind: TypeAlias = Literal[
    "ceiling", "height", "hands", "no time", "tempo jump", "cue", "manner"
]

LARGEST_JUMP: Final = 0.15
"""Largest change of tempo, as a share, between two parts without a stop that is not remarked on: a
value of our own. A change of a steady tempo is noticed from about 1.5 % (Drake & Botte, Percept.
Psychophys. 54 (1993) 277-286), and one that is noticed can still be followed up to a point."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One row of the running order."""

    kind: EntryKind
    """A pattern, the throws between two, or a stop."""
    number: int
    """The number of the part, from 1; for a bridge, of the part it leads to."""
    title: str
    """What it is called."""
    text: str
    """The pattern, or the throws of a bridge, in notation; empty for a rest."""
    beat: int
    """Its first beat; 0 is the first throw."""
    beats: int
    """Its length."""
    time: float
    """When it begins, in seconds from the first sample."""
    seconds: float
    """How long it takes."""
    tempo: float
    """Beats a minute on its first beat."""
    to: float
    """Beats a minute at its end."""
    slowest: float
    """The slowest tempo in it, in beats a minute."""
    fastest: float
    """The fastest tempo in it."""
    objects: int
    """Objects in play; for a rest, those before it."""
    change: int = 0
    """Objects taken up (more than 0) or put down (less than 0) on the way into it."""
    held: Mapping[Hand, int] | None = None
    """How many objects each hand holds before the first throw of a part at the start or after a
    rest; None for everything else."""
    throws: tuple[Throw, ...] = ()
    """The different throws, the highest first."""
    how: str = ""
    """How they are made, in words, single throws included."""
    manners: tuple[Manner, ...] = ()
    """How single throws of its cycle are made."""
    never: tuple[Manner, ...] = ()
    """Those of them that no throw of the part is made in."""
    no_time: str = ""
    """A sentence if an object is taken up or put down in it where its hand has no time for it."""
    cue: CueCall | None = None
    """Its announcement; None if it has none."""
    bar: float | None = None
    """The bar of the music in which it begins, from 1, with the share of that bar as its fraction;
    None without music."""


@dataclass(frozen=True, slots=True)
class Concern:
    """Something that may go wrong in a routine without faults."""

    number: int
    """The number of the part, from 1."""
    kind: ConcernKind
    """What it is about."""
    sentence: str
    """The concern, in a sentence."""


@dataclass(frozen=True, slots=True)
class RunningOrder:
    """A routine, row by row."""

    title: str
    """The title of the routine."""
    entries: tuple[Entry, ...]
    """The rows, in order."""
    concerns: tuple[Concern, ...]
    """What may go wrong, in order of the parts."""
    seconds: float
    """Its length, from the first sample to the last."""
    beats: int
    """Its length, from the first throw to the first beat after the last one."""
    chapters: tuple[Chapter, ...]
    """The chapters, for a file."""


def running_order(laid: LaidOut, run: Run, room: Room = NO_CEILING) -> RunningOrder:
    """Return the running order of a routine, which as a whole became `run`."""
    entries = tuple(_entries(laid, run))
    return RunningOrder(
        title=laid.routine.title,
        entries=entries,
        concerns=tuple(_concerns(entries, room)),
        seconds=seconds_of(run) or 0.0,
        beats=laid.beats,
        chapters=tuple(chapters_of(run)),
    )


def _entries(laid: LaidOut, run: Run) -> Iterator[Entry]:
    cues = {call.change: call for call in cue_calls(run)}
    objects = 0
    for before, each in zip([None, *laid.parts], laid.parts, strict=False):
        part = each.part
        if isinstance(part, PatternPart):
            objects = part.pattern.objects
        entry = _entry(laid, run, each, objects)
        cue = cues.get(each.change_beat) if before else None
        if before is None or each.joining is None or not each.joining.halves:
            yield replace(entry, cue=cue)
            continue
        yield _bridge(laid, run, before, each, replace(entry, cue=cue))
        yield replace(entry, change=0)


def _entry(laid: LaidOut, run: Run, each: LaidPart, objects: int) -> Entry:
    part, clock = each.part, clock_of(run)
    time = clock.time_at(each.beat)
    slowest, fastest = run.tempo.extremes(each.beat, each.beat + each.beats)
    pattern = part.pattern if isinstance(part, PatternPart) else None
    return Entry(
        kind="rest" if pattern is None else "part",
        number=each.number,
        title=part.title,
        text="" if pattern is None else pattern.text,
        beat=each.beat,
        beats=each.beats,
        time=time,
        seconds=clock.time_at(each.beat + each.beats) - time,
        tempo=run.tempo.tempo_at(each.beat),
        to=run.tempo.tempo_before(each.beat + each.beats),
        slowest=slowest,
        fastest=fastest,
        objects=objects,
        change=each.change,
        held=None if pattern is None or each.joining is not None else start(pattern, each.first),
        throws=() if pattern is None else _different(pattern),
        how=part.how_told if isinstance(part, PatternPart) else "",
        manners=part.manners if isinstance(part, PatternPart) else (),
        never=_never(part, each) if isinstance(part, PatternPart) else (),
        bar=_bar(laid, run, time),
    )


def _bridge(laid: LaidOut, run: Run, before: LaidPart, after: LaidPart, entry: Entry) -> Entry:
    """Return the row of the throws that lead to the part of `entry`."""
    joining = after.joining or Joining("async")
    beat, time = after.change_beat, clock_of(run).time_at(after.change_beat)
    slowest, fastest = run.tempo.extremes(beat, after.beat)
    return replace(
        entry,
        kind="bridge",
        title=bridge_title(before, after),
        text=joining.text,
        beat=beat,
        beats=joining.beats,
        time=time,
        seconds=entry.time - time,
        tempo=run.tempo.tempo_at(beat),
        to=run.tempo.tempo_before(after.beat),
        slowest=slowest,
        fastest=fastest,
        throws=_different(*joining.halves),
        manners=(),
        never=(),
        how="" if joining.change is None else joining.change.text,
        no_time=_no_time(before, after, joining.calmer) if joining.rushed else "",
        bar=_bar(laid, run, time),
    )


def _no_time(before: LaidPart, after: LaidPart, calmer: str) -> str:
    """Return that a hand has no time for an object between two parts, and where it would have."""
    moved = "taken up" if after.change > 0 else "put down"
    count = abs(after.change)
    sentence = (
        f"{count} object{'s have' if count > 1 else ' has'} to be {moved} on the way into "
        f"{after.part.title}, and no hand has time for that: it takes a turn on which the hand "
        "throws nothing"
    )
    if count > 1:
        sentence += ", for one object at a time, a second apart"
    if calmer:
        return f"{sentence}. The bridge “{calmer}” has {'them' if count > 1 else 'one'}."
    for each in (before, after):
        free = free_beats(each.part.pattern) if isinstance(each.part, PatternPart) else []
        if free:
            return (
                f"{sentence}. There is one in part {each.number}, {each.part.title}, on beat "
                f"{free[0]} of its cycle."
            )
    return (
        f"{sentence}. Neither {before.part.title} nor {after.part.title} has one: put a rest "
        "between, or a pattern with a 0 or a 2."
    )


def _different(*patterns: Pattern) -> tuple[Throw, ...]:
    """Return the different throws of patterns, the highest first."""
    throws = {throw for pattern in patterns for _, throw in pattern.throws()}
    return tuple(sorted(throws, key=lambda throw: (-throw.value, throw.crossed)))


def _never(part: PatternPart, each: LaidPart) -> tuple[Manner, ...]:
    manners = narrowest_first(part.manners)
    return tuple(never_made(part.pattern, manners, each.first, each.beats))


def _bar(laid: LaidOut, run: Run, time: float) -> float | None:
    music, begins = laid.routine.music, music_begins(laid, run)
    if music is None or begins is None:
        return None
    return 1.0 + music_beat_at(music, time - begins) / music.a_bar


def _concerns(entries: Sequence[Entry], room: Room) -> Iterator[Concern]:
    at_tempo: dict[float, list[Throw]] = defaultdict(list)
    for entry in entries:
        at_tempo[entry.fastest] += entry.throws
    for before, entry in zip([None, *entries], entries, strict=False):
        limits, beside = (entry.slowest, entry.fastest), at_tempo[entry.fastest]
        for kind, sentence in tempo_warnings(entry.throws, *limits, room, beside):
            yield Concern(entry.number, kind, sentence)
        if before is not None:
            yield from _jump(before, entry)
        if entry.no_time:
            yield Concern(entry.number, "no time", entry.no_time)
        for manner in entry.never:
            sentence = (
                f"“{manner.throw.text} {manner.how}” never comes in the "
                f"{counted(entry.beats, 'beat')} of {entry.title}: it is too short, or "
                "these throws are all made by the other hand or in another manner."
            )
            yield Concern(entry.number, "manner", sentence)
        if entry.cue is not None and entry.cue.reason:
            yield Concern(entry.number, "cue", entry.cue.reason)


def throw_height(throw: Throw, tempo: float, room: Room) -> float:
    """Return how high above the floor a throw rises, in metres; as high as the hands if held."""
    return room.hands + (room.height(throw, tempo) or 0.0)


def _jump(before: Entry, entry: Entry) -> Iterator[Concern]:
    jump = entry.tempo / before.to - 1
    if abs(jump) > LARGEST_JUMP and "rest" not in {before.kind, entry.kind}:
        yield Concern(
            entry.number,
            "tempo jump",
            f"The tempo jumps from {before.to:.0f} to {entry.tempo:.0f} beats a minute where "
            f"{entry.title} begins, by {abs(jump):.0%}: let it change within a part, or put a rest "
            "between.",
        )
