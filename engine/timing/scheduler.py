"""A run becomes a timeline: every beat with its time, hands, objects, click and call.

In order: time to fill the hands, an announcement, the count-in, the throws, and the run-out,
in which the clicks go on until the last object is caught. A rest between parts begins with such
a run-out and ends with a count-in.
"""

from collections import deque
from collections.abc import Iterator
from itertools import islice
from typing import Final

from engine.calling.calls import calls
from engine.calling.cue_calls import CueCall, cue_calls, give_way
from engine.errors import RunError
from engine.timing.clock import clock_of
from engine.timing.objects import Juggle
from engine.timing.run import Run
from engine.timing.stretch_beats import Handover, SectionBeats
from engine.timing.stretches import Section, sections
from engine.timing.timeline import Beat, Cue, Timeline

TAIL: Final = 1.0
"""Seconds after the last beat, for its sounds to ring out."""

PREPARED_BEATS: Final = 5000
"""How far ahead the words of an endless run are gathered, in beats."""


def schedule(run: Run, since: int | None = None) -> Timeline:
    """Return the timeline of a run.

    `since` is the beat from which it is walked, with nothing before it; the whole if None. However
    late that beat is, the walk begins at once.

    Raises
    ------
    RunError
        If a part that is not the last never ends, or has no beats, a rest is out of place or too
        short, or the count-in is negative.
    """
    if min(run.count_in, run.ready, run.announcement_seconds, run.lead) < 0:
        raise RunError("Getting ready, the count-in and the lead cannot be negative.")
    cued = [call for call in cue_calls(run) if call.said] if run.cues else []
    return Timeline(
        beats=lambda: _beats(run, cued, since),
        cues=tuple(_cues(run, cued, since)),
        seconds=seconds_of(run),
        words=_words(run),
    )


def _cues(run: Run, cued: list[CueCall], since: int | None) -> Iterator[Cue]:
    """Yield what is said besides the beats, in order of time."""
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
    """Walk from stretch to stretch; those that are over before `since` are passed over."""
    clock = clock_of(run)
    left = Handover(None, 0, run.count_in)
    for stretch in sections(run):
        beats = SectionBeats(stretch, clock, since)
        if since is not None and _next_counted(stretch, since):
            left = beats.pass_over(left)
        else:
            left = yield from beats.walk(left)


def _next_counted(stretch: Section, beat: int) -> bool:
    """Return whether a beat comes after a stretch and its rest."""
    if stretch.beats is None or stretch.rest is None:
        return False
    return beat >= stretch.first + stretch.beats + stretch.rest.beats


def last_beat(run: Run) -> int | None:
    """Return the last beat of its run-out, or of its throws; None for a run that never ends.

    Raises
    ------
    RunError
        If a part does not take over the objects as the one before leaves them.
    """
    if run.closing.beats is None:
        return None
    *_, stretch = sections(run)
    juggle = Juggle(stretch.run, stretch.beats or 0)
    deque(juggle, maxlen=0)  # walked to the end, where what is still in the air is seen
    return stretch.first + SectionBeats(stretch, clock_of(run)).last_beat(juggle)


def seconds_of(run: Run) -> float | None:
    """Return the length of a run in seconds, its last sounds included; None if it never ends."""
    last = last_beat(run)
    return None if last is None else clock_of(run).time_at(last) + TAIL


def _words(run: Run) -> frozenset[str]:
    """Gather what may be called; of a single part as much as holds every word of the usual run."""
    several = len(run.parts) > 1
    words: set[str] = set()
    for stretch in sections(run):
        called = calls(Juggle(stretch.run), stretch.run)
        if not several or stretch.beats is None:
            ahead = sum(part.pattern.period for part in stretch.run.throwing)
            called = islice(called, max(PREPARED_BEATS, ahead))
        words.update(call for _, call in called if call is not None)
    return frozenset(words)
