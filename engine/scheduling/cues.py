"""Where the cue calls of a run stand, and how the count gives way to them.

A cue call ends before the change that it announces and begins after the change before that, so that
it is clear which change is meant. Of the beats on which it can begin it takes the last one, and of
the paces at which it fits the slowest. No pace is too quick to be followed: where there is no time
for all of its words, it has fewer or is not said. The beats that it is heard over keep their clicks
and lose their calls.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from throwcount.engine.numbers import counted
from throwcount.engine.timing.run import Clock, CueText, Run, clock_of
from throwcount.engine.timing.timeline import Beat

BEFORE_THE_CHANGE: Final = 0.3
"""Seconds from the end of a cue call to the change, as the call of that beat begins early."""

AROUND: Final = 0.2
"""Seconds before and after a cue call in which no call has its centre: words reach that far."""

FEWEST_TOLD: Final = 6
"""Words of a text that is told to be too quick, at least: fewer are soon over, however quick."""

WORDS_A_SECOND: Final = 4.5
"""The quickest pace of a cue call. Beyond about 275 words a minute, less and less of what is said
is understood (Foulke & Sticht, Psychol. Bull. 72 (1969) 50-62; from memory)."""

NEARLY: Final = 1e-9
"""Beats by which a time may miss a beat and still be taken for it."""

ROOM_STEP: Final = 0.01
"""Seconds to which the room for a cue call is found."""

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
    instead_of: str = ""
    """What was to be said, if these are other words; else empty."""
    reason: str = ""
    """Why it is not said as it was wanted, in sentences; empty if it is."""

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


def at_ease(text: str, paces: Sequence[float]) -> Sequence[float]:
    """Return those of a text's paces, in seconds, that are not too quick; the slowest in any case.

    The slowest comes first, in `paces` too.
    """
    least = len(text.split()) / WORDS_A_SECOND
    return [seconds for seconds in paces if seconds >= least] or paces[:1]


def _placed(text: CueText, clock: Clock, free: float) -> CueCall:
    """Place a cue call as it is wanted, or else as near to that as it fits.

    `free` is when the cue call before it is over, in seconds.
    """
    earliest = max(clock.time_at(text.since), free)
    for words, paces, wanted, reason in _wishes(text):
        for seconds in at_ease(words, paces):
            beat = _last_beat_for(wanted, clock, seconds)
            time = clock.time_at(beat)
            if time < earliest:
                continue
            instead_of, why = text.unsayable, reason
            if words != text.text:
                instead_of = instead_of or text.text
                why = f"{_too_long(text, wanted, clock, earliest)} “{words}” is said instead."
            elif instead_of:
                why = f"No voice here can say “{instead_of}”: “{words}” is said instead."
            count = len(words.split())
            if not why and count >= FEWEST_TOLD and count > WORDS_A_SECOND * seconds:
                rate = count / seconds
                why = (
                    f"“{words}” is said at {rate:.1f} words a second: the voice has no slower pace."
                )
            return CueCall(
                text=words,
                change=text.change,
                beat=beat,
                time=time,
                seconds=seconds,
                instead_of=instead_of,
                reason=why,
            )
    seconds = at_ease(text.text, text.paces)[-1]
    wanted = replace(text, ahead=None, over=text.change)
    beat = _last_beat_for(wanted, clock, seconds)
    return CueCall(
        text=text.text,
        change=text.change,
        beat=beat,
        time=clock.time_at(beat),
        seconds=seconds,
        said=False,
        instead_of=text.unsayable,
        reason=f"{_too_long(text, wanted, clock, earliest)} It is not said.",
    )


def _wishes(text: CueText) -> Iterator[tuple[str, Sequence[float], CueText, str]]:
    """Yield words with their paces, what is wanted of their place, and a reason.

    What is wanted is less and less; only if even the shortest words do not fit before the count-in
    may any be said over it.
    """
    forms = {text.text: text.paces, **text.shorter}
    for words, paces in forms.items():
        yield words, paces, text, ""
        if text.ahead is not None:
            beats = counted(text.ahead, "beat")
            late = f"“{words}” does not fit {beats} ahead and is said later."
            yield words, paces, replace(text, ahead=None), late
    if text.over < text.change:
        for words, paces in forms.items():
            late = f"“{words}” is said over the count-in, as there is no room before it."
            yield words, paces, replace(text, ahead=None, over=text.change), late


def _too_long(text: CueText, wanted: CueText, clock: Clock, earliest: float) -> str:
    """Return that there is no time for the words of a cue call, and how many of them fit.

    `wanted` is where it may stand, and `earliest` when it may begin, in seconds.
    """
    seconds = at_ease(text.text, text.paces)[-1]
    room = _room(replace(wanted, ahead=None), clock, earliest, seconds)
    words = text.text.split()
    fitting = (
        count
        for count in range(min(len(words), int(room * WORDS_A_SECOND)), 0, -1)
        if seconds * len(" ".join(words[:count])) <= room * len(text.text)
    )
    count = next(fitting, 0)
    told = (
        f"“{text.text}” takes {seconds:.1f} s without haste, and between the change before and its "
        f"own there are {room:.1f} s"
    )
    if not count:
        return f"{told}."
    fit = "one word" if count == 1 else f"about {count} words"
    return f"{told}, enough for {fit} of it: “{' '.join(words[:count])}”."


def _room(text: CueText, clock: Clock, earliest: float, longest: float) -> float:
    """Return the most seconds that a cue call can last if it begins no earlier than `earliest`.

    The result is at most `longest`, and short of the most by a hundredth of a second at most.
    """
    fits, too_long = 0.0, longest
    while too_long - fits > ROOM_STEP:
        seconds = (fits + too_long) / 2
        if clock.time_at(_last_beat_for(text, clock, seconds)) >= earliest:
            fits = seconds
        else:
            too_long = seconds
    return fits


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
