"""Where the cue calls of a run stand, and how the count gives way to them.

A cue call ends before the change that it announces and begins after the change before that, so that
it is clear which change is meant. Of the beats on which it can begin it takes the last one, and of
the paces at which it fits the slowest. The beats that it is heard over keep their clicks and lose
their calls.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from throwcount.engine.timing.run import Clock, CueText, Run, clock_of
from throwcount.engine.timing.timeline import Beat

BEFORE_THE_CHANGE: Final = 0.3
"""Seconds from the end of a cue call to the change, as the call of that beat begins early."""

AROUND: Final = 0.2
"""Seconds before and after a cue call in which no call has its centre: words reach that far."""

NEARLY: Final = 1e-9
"""Beats by which a time may miss a beat and still be taken for it."""

LAST_CYCLE_SECONDS: Final = 0.8
"""Seconds that are left for the call of the last cycle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CueCall:
    """A cue call with its place in the run."""

    text: str
    """What is said."""
    change: int
    """The beat of the change that it announces."""
    beat: int
    """The beat on which it begins."""
    time: float
    """When it begins, in seconds from the first sample."""
    seconds: float
    """How long it takes."""
    said: bool = True
    """Whether it is said; False if it does not fit."""
    reason: str = ""
    """A sentence on why it does not stand where it was wanted; empty if it does."""

    @property
    def end(self) -> float:
        """When it ends, in seconds from the first sample."""
        return self.time + self.seconds


def cue_calls(run: Run) -> Iterator[CueCall]:
    """Yield the cue calls of a run in order, including those that do not fit."""
    clock = clock_of(run)
    free = 0.0
    for text in run.cues:
        call = _placed(text, clock, free)
        if call.said:
            free = call.end + AROUND
        yield call


def _placed(text: CueText, clock: Clock, free: float) -> CueCall:
    """Place a cue call as it is wanted, or else as near to that as it fits.

    `free` is when the cue call before it is over, in seconds.
    """
    call = partial(CueCall, text=text.text, change=text.change)
    earliest = max(clock.time_at(text.since), free)
    for wanted, reason in _wishes(text):
        for seconds in text.paces:
            beat = _last_beat_for(wanted, clock, seconds)
            time = clock.time_at(beat)
            if time >= earliest:
                return call(beat=beat, time=time, seconds=seconds, reason=reason)
    seconds = text.paces[-1]
    beat = _last_beat_for(replace(text, ahead=None), clock, seconds)
    reason = (
        f"“{text.text}” takes {seconds:.1f} s at its quickest and does not fit between the change "
        "before and its own: it is not said."
    )
    return call(beat=beat, time=clock.time_at(beat), seconds=seconds, said=False, reason=reason)


def _wishes(text: CueText) -> Iterator[tuple[CueText, str]]:
    """Yield what is wanted of its place, then less and less of that, each with a reason."""
    yield text, ""
    if text.ahead is not None:
        late = f"“{text.text}” does not fit {text.ahead} beats ahead and is said later."
        yield replace(text, ahead=None), late
    if text.over < text.change:
        late = f"“{text.text}” is said over the count-in, as there is no room before it."
        yield replace(text, ahead=None, over=text.change), late


def _last_beat_for(text: CueText, clock: Clock, seconds: float) -> int:
    """Return the last beat on which a call of this length, in seconds, can begin."""
    beat = _beat_before(clock, clock.time_at(text.over) - BEFORE_THE_CHANGE - seconds)
    if text.ahead is not None:
        beat = min(beat, text.change - text.ahead)
    if text.last_cycle is None:
        return beat
    called = clock.time_at(text.last_cycle)
    starts = clock.time_at(beat)
    if starts - LAST_CYCLE_SECONDS < called < starts + seconds + AROUND:
        return _beat_before(clock, called - AROUND - seconds)
    return beat


def _beat_before(clock: Clock, seconds: float) -> int:
    """Return the last beat at or before a time in seconds."""
    return math.floor(clock.beat_at(seconds) + NEARLY)


def give_way(beats: Iterable[Beat], calls: Sequence[CueCall]) -> Iterator[Beat]:
    """Yield `beats` without the calls that would be heard over a cue call."""
    coming = iter([call for call in calls if call.said])
    call = next(coming, None)
    for beat in beats:
        while call is not None and beat.time > call.end + AROUND:
            call = next(coming, None)
        over = call is not None and beat.time >= call.time - AROUND
        yield beat._replace(call=None, call_time=None) if over else beat
