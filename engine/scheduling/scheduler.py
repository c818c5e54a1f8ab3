"""A run becomes a timeline: every beat with its time, hands, objects, click and call.

A timeline has, in order, time to fill the hands, an announcement, the count-in, the throws, and the
run-out, in which the clicks go on until the last object is caught. A rest between parts begins with
such a run-out and ends with a count-in.

Timelines can follow one another, as sets do in a practice, and a run that is under way can change
its tempo on a beat without losing the count. Chapters say what comes when in a piece.
"""

import math
from collections import ChainMap, deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, islice, pairwise
from typing import Final, Literal, TypeAlias

from throwcount.engine.errors import RunError
from throwcount.engine.scheduling.calls import (
    FLASH,
    HURRY,
    QUALIFIED,
    STOP,
    WAIT,
    called_manners,
    calls,
    has_milestones,
    shorter_calls,
)
from throwcount.engine.scheduling.cues import NEARLY, CueCall, cue_calls, give_way
from throwcount.engine.scheduling.sections import Handover, Section, SectionBeats, sections
from throwcount.engine.timing.objects import Juggle
from throwcount.engine.timing.run import Part, Rest, Run, clock_of
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import Beat, Cue, Timeline

TAIL: Final = 1.0
"""Seconds after the last beat in which its sounds ring out."""

PREPARED_BEATS: Final = 5000
"""Beats of an endless run whose words are gathered beforehand."""


def schedule(run: Run, since: int | None = None) -> Timeline:
    """Return the timeline of a run, from beat `since` on; all of it if None.

    However late that beat is, the walk begins at once.

    Raises
    ------
    RunError
        If a part before the last never ends, a part has no beats, a rest is out of place or too
        short, or the count-in, the lead or a time before the throws is negative.
    """
    if min(run.count_in, run.ready, run.announcement_seconds, run.lead) < 0:
        raise RunError("Getting ready, the count-in and the lead cannot be negative.")
    cued = [call for call in cue_calls(run) if call.said] if run.cues else []
    manners = tuple(called_manners(run))
    words = _words(run).union(manner.call for manner in manners)
    shorter = shorter_calls(run)
    return Timeline(
        beats=lambda: _beats(run, cued, since),
        cues=tuple(_cues(run, cued, since)),
        seconds=seconds_of(run),
        words=words.union(shorter.values()),
        seldom=words if run.say == "tally" else frozenset(_seldom(run)),
        shorter=shorter,
        unhurried={manner.call: manner.seconds for manner in manners if manner.shorter},
    )


def _seldom(run: Run) -> Iterator[str]:
    """Yield what is called seldom, besides a tally."""
    yield from (STOP, WAIT, HURRY)
    yield from (part.last_cycle for part in run.throwing if part.last_cycle)
    if has_milestones(run):
        yield from (FLASH, QUALIFIED)


def _cues(run: Run, cued: list[CueCall], since: int | None) -> Iterator[Cue]:
    """Yield what is said between the beats, in order of time."""
    if since is None:
        yield from run.prelude
        if run.announcement:
            yield Cue(run.ready, run.announcement, seconds=run.announcement_seconds)
    for call in cued:
        if since is None or call.beat >= since:
            yield Cue(call.time, call.text, call.change, call.seconds)


def _beats(run: Run, cued: list[CueCall], since: int | None) -> Iterator[Beat]:
    walk = _walk(run, since)
    return give_way(walk, cued) if cued else walk


def _walk(run: Run, since: int | None) -> Iterator[Beat]:
    """Walk from section to section, passing over those that end before beat `since`."""
    clock = clock_of(run)
    left = Handover(None, 0, run.count_in)
    for section in sections(run):
        beats = SectionBeats(section, clock, since)
        if since is not None and _next_counted(section, since):
            left = beats.pass_over(left)
        else:
            left = yield from beats.walk(left)


def _next_counted(section: Section, beat: int) -> bool:
    """Return whether a beat comes after a section and its rest."""
    if section.beats is None or section.rest is None:
        return False
    return beat >= section.first + section.beats + section.rest.beats


def last_beat(run: Run) -> int | None:
    """Return the last beat of a run's run-out or throws; None if it never ends.

    Raises
    ------
    RunError
        If a part does not take over the objects as the part before leaves them.
    """
    if run.closing.beats is None:
        return None
    *_, section = sections(run)
    juggle = Juggle(section.run.throwing, section.run.first, section.beats or 0)
    deque(juggle, maxlen=0)  # walks to the end, where some objects are still in the air
    return section.first + SectionBeats(section, clock_of(run)).last_beat(juggle)


def seconds_of(run: Run) -> float | None:
    """Return the length of a run in seconds with its last sounds; None if it never ends."""
    last = last_beat(run)
    return None if last is None else clock_of(run).time_at(last) + TAIL


def calls_repeat(run: Run) -> bool:
    """Return whether a run never ends and is called alike in every second cycle."""
    alike = run.say in ("values", "position", "hands") and not run.fading.calls
    return alike and not has_milestones(run) and run.closing.beats is None


def _words(run: Run) -> frozenset[str]:
    """Return what may be called; of a single part or an endless one, in its first beats alone."""
    several = len(run.parts) > 1
    words: set[str] = set()
    for section in sections(run):
        called = calls(Juggle(section.run.throwing, section.run.first), section.run)
        if not several or section.beats is None:
            ahead = sum(part.pattern.period for part in section.run.throwing)
            beats = 2 * ahead if calls_repeat(run) else max(PREPARED_BEATS, ahead)
            called = islice(called, beats)
        words.update(each.call for each in called if each.call is not None)
    return frozenset(words)


def in_turn(timelines: Sequence[Timeline]) -> Timeline:
    """Return one timeline that plays `timelines` in turn; each starts where the last one ended.

    Raises
    ------
    RunError
        If a timeline before the last never ends.
    """
    lengths = [timeline.seconds for timeline in timelines]
    ended = [Fraction(length) for length in lengths[:-1] if length is not None]
    if len(ended) < len(timelines) - 1:
        raise RunError("A set that never ends cannot be followed by another.")
    starts = [float(start) for start in accumulate(ended, initial=Fraction(0))]
    placed = list(zip(starts, timelines, strict=True))
    return Timeline(
        beats=lambda: (_later_beat(beat, start) for start, timeline in placed for beat in timeline),
        cues=tuple(_later_cues(placed)),
        seconds=None if lengths[-1] is None else starts[-1] + lengths[-1],
        words=frozenset().union(*(timeline.words for timeline in timelines)),
        seldom=frozenset().union(*(timeline.seldom for timeline in timelines)),
        shorter=dict(ChainMap(*(dict(timeline.shorter) for timeline in timelines))),
        unhurried=dict(ChainMap(*(dict(timeline.unhurried) for timeline in timelines))),
    )


def _later_beat(beat: Beat, seconds: float) -> Beat:
    call_time = None if beat.call_time is None else beat.call_time + seconds
    return beat._replace(time=beat.time + seconds, call_time=call_time)


def _later_cues(placed: list[tuple[float, Timeline]]) -> Iterator[Cue]:
    for start, timeline in placed:
        for cue in timeline.cues:
            yield replace(cue, time=cue.time + start)


@dataclass(frozen=True, slots=True)
class Nudge:
    """A run that goes on at another tempo from one of its beats."""

    run: Run
    """The run as before but for its tempo from `pivot` on."""
    pivot: int
    """The beat that keeps its place."""
    later: float
    """Seconds by which the start of the run moves for that. 0 if the pivot is the second throw or
    later; then every beat before the pivot keeps its time to the last bit."""


def first_beat_from(run: Run, seconds: float) -> int | None:
    """Return the first beat at or after a time in seconds; None after the run-out.

    Beats of the count-in are negative.
    """
    beat = max(math.ceil(clock_of(run).beat_at(seconds) - NEARLY), -run.count_in)
    last = last_beat(run)
    return beat if last is None or beat <= last else None


def nudged(run: Run, pivot: int, tempo: float) -> Nudge:
    """Return `run` at another tempo, in beats a minute, from beat `pivot` on.

    Cycles, hands, objects and accents go on unchanged. A single part keeps the new tempo; several
    parts keep the proportions of their tempos.

    Raises
    ------
    TempoError
        If the tempo is out of range.
    """
    after = steady(tempo)
    if len(run.parts) > 1:
        after = run.tempo.since(max(pivot, 0)).scaled(tempo / run.tempo.tempo_at(pivot))
    if pivot > 0:
        return Nudge(replace(run, tempo=run.tempo.until(pivot) + after), pivot, 0.0)
    changed = replace(run, tempo=after)
    later = clock_of(run).time_at(pivot) - clock_of(changed).time_at(pivot)
    return Nudge(changed, pivot, later)


ChapterKind: TypeAlias = Literal["ready", "part", "bridge", "rest", "run-out"]

READY: Final = "getting ready"
CAUGHT: Final = "the last catches"


@dataclass(frozen=True, slots=True)
class Chapter:
    """A named part of a piece."""

    start: float
    """When it begins, in seconds from the first sample."""
    end: float
    """When it ends and the next one starts, in seconds from the first sample."""
    title: str
    """Its name."""
    kind: ChapterKind = "part"
    """Filling the hands and the count-in, a pattern, the throws between two patterns, a rest, or
    the catches after the last throw."""


def chapters_of(run: Run) -> Iterator[Chapter]:
    """Yield the chapters of a run that ends, from the first sample to the last."""
    clock = clock_of(run)
    beat, start = 0, clock.time_at(0)
    yield Chapter(0.0, start, READY, "ready")
    for part, following in pairwise([*run.parts, None]):
        if part is None:
            continue
        beat += part.beats or 0
        if _kind(part) == "bridge" and following is not None and _kind(following) == "bridge":
            continue  # the two halves of a bridge between two timings
        end = clock.time_at(beat)
        yield Chapter(start, end, part.title, _kind(part))
        start = end
    seconds = seconds_of(run) or 0.0
    if start < seconds:
        yield Chapter(start, seconds, CAUGHT, "run-out")


def _kind(part: Part | Rest) -> ChapterKind:
    if isinstance(part, Rest):
        return "rest"
    return "bridge" if part.leads else "part"
