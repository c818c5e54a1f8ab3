"""Calling less often where the voice has no pace for a call on every beat.

A call is made if it is over before the next call that is made, in shorter words if that helps. A
value that was left out several
times goes first, so each value is heard again and again. The choice starts anew every `CYCLES`
cycles, with the opening call of the pattern, so a walk that starts there makes the same calls.
Milestones, "stop" and the words before a last cycle are never left out, and the manner of a throw
only for these and for other manners.
"""

import math
from bisect import bisect
from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import islice
from typing import Final, TypeAlias

from throwcount.engine.timing.timeline import Beat, CallKind, Timeline

WordSeconds: TypeAlias = Callable[[str], float]
"""Returns how many seconds the quickest way of saying a text takes."""

CYCLES: Final = 6
"""Cycles of a pattern after which the same calls are made again, at a steady tempo."""

PATIENCE: Final = 2
"""Times in a row that a value may be left out before it goes before others."""

NEARLY: Final = 1e-9
"""Seconds by which a word may be too long for its gap: the error of adding up times."""


@dataclass(frozen=True, slots=True)
class Spacing:
    """How often calls are made in `CYCLES` cycles."""

    beat: Beat
    """The first beat of these cycles."""
    there: int
    """How many calls they have."""
    made: int
    """How many of these are made."""

    @property
    def every(self) -> int:
        """About one call in so many is made; 1 if all are, and at least 2 if not."""
        return 1 if self.made == self.there else max(2, round(self.there / max(self.made, 1)))

    @property
    def share(self) -> float:
        """The share of the calls that is made; 1 if there are none."""
        return self.made / self.there if self.there else 1.0


def thin(timeline: Timeline, word_seconds: WordSeconds) -> Timeline:
    """Return `timeline` with only the calls that can be said before the next one."""
    least = timeline.unhurried

    def seconds(text: str) -> float:
        return least[text] if text in least else word_seconds(text)

    return replace(timeline, beats=lambda: _thinned(timeline, seconds if least else word_seconds))


def spacings(timeline: Timeline, word_seconds: WordSeconds) -> Iterator[Spacing]:
    """Yield how often calls are made, for every `CYCLES` cycles of each part."""
    opening: Beat | None = None
    there = made = 0
    for whole, thinned in zip(timeline, thin(timeline, word_seconds), strict=True):
        if opening is not None and (_starts_anew(whole) or whole.part != opening.part):
            yield Spacing(opening, there, made)
            opening = None
        if opening is None and whole.cycle is not None:
            opening, there, made = whole, 0, 0
        there += whole.call is not None
        made += thinned.call is not None
    if opening is not None:
        yield Spacing(opening, there, made)


def _thinned(timeline: Timeline, word_seconds: WordSeconds) -> Iterator[Beat]:
    free = -math.inf  # when the last call that was made is over
    silent: Counter[str] = Counter()  # how often in a row each call was left out
    for beat, text, blocked in _with_blocked(timeline, word_seconds):
        if silent and _starts_anew(beat):
            silent.clear()
        if beat.call is None or beat.call_time is None:
            yield beat
        elif (blocked or beat.call_time < free - NEARLY) and _gives_way(
            beat, blocked, timeline, silent, too_early=beat.call_time < free - NEARLY
        ):
            silent[beat.call] += 1
            yield beat._replace(call=None, call_time=None)
        else:
            if silent:
                silent[beat.call] = 0
            free = beat.call_time + word_seconds(text)
            yield beat if text == beat.call else beat._replace(call=text)


def _gives_way(
    beat: Beat,
    blocked: Iterable[Beat],
    timeline: Timeline,
    silent: Mapping[str, int],
    *,
    too_early: bool,
) -> bool:
    """Return whether a call is left out for the one before it, or for one that it would run into.

    `silent` tells how often in a row each call was left out.
    """
    rank = _rank(beat, timeline)
    patience = max(PATIENCE, silent.get(beat.call or "", 0) + 1)
    return rank < SELDOM and (
        too_early
        or any(
            _rank(later, timeline) > rank
            or (
                rank == _rank(later, timeline) != OPENING
                and silent.get(later.call or "", 0) >= patience
            )
            for later in blocked
        )
    )


OPENING, MANNER, SELDOM = 1, 2, 3


def _rank(beat: Beat, timeline: Timeline) -> int:
    """Return which of two calls gives way to the other: the one of lower rank."""
    if beat.call_kind == "manner":
        return MANNER
    seldom = beat.call_kind != "count" or beat.call in timeline.seldom
    return SELDOM if seldom else OPENING * _starts_anew(beat)


def _starts_anew(beat: Beat) -> bool:
    """Return whether the choice of calls starts anew on a beat."""
    return beat.cycle is not None and beat.cycle % CYCLES == 0 and beat.cycle_beat == 0


REACH: Final = 30.0
"""Seconds for which a next call is looked for, where the count has dropped out."""


def _with_blocked(
    timeline: Timeline, word_seconds: WordSeconds
) -> Iterator[tuple[Beat, str, list[Beat]]]:
    """Yield each beat with what is said on it, and the later beats that this would run into.

    What is said is the call, or the shorter words for it if the call would run into another.
    """
    coming = iter(timeline)
    ahead: deque[Beat] = deque(islice(coming, 1))

    def blocked_by(text: str, call: Beat, time: float) -> list[Beat]:
        over = time + word_seconds(text) - NEARLY
        while not (ahead and _called_from(ahead[-1], over)):
            following = next(coming, None)
            if following is None:
                break
            ahead.append(following)
        blocked = [later for later in ahead if later.call and not _called_from(later, over)]
        return blocked + _cues_within(timeline, call, over)

    while ahead:
        beat = ahead.popleft()
        text: str = beat.call or ""
        blocked: list[Beat] = []
        if not ahead:
            ahead.extend(islice(coming, 1))
        if beat.call_time is not None:
            over = beat.call_time + word_seconds(text) - NEARLY
            if ahead and (ahead[0].call_time is None or ahead[0].call_time < over):
                blocked = blocked_by(text, beat, beat.call_time)
                if blocked and text in timeline.shorter:
                    text = timeline.shorter[text]
                    blocked = blocked_by(text, beat, beat.call_time)
        yield beat, text, blocked


def _cues_within(timeline: Timeline, call: Beat, over: float) -> list[Beat]:
    """Return beats that stand for the cues that begin until a manner is over.

    Other calls are short enough to be heard beside a cue.
    """
    if call.call_kind != "manner":
        return []
    first, last = (
        bisect(timeline.cues, moment, key=lambda cue: cue.time) for moment in (call.time, over)
    )
    stop: CallKind = "stop"
    return [call._replace(call=cue.text, call_kind=stop) for cue in timeline.cues[first:last]]


def _called_from(beat: Beat, seconds: float) -> bool:
    """Return whether a call, or silence after it, lies beyond some time."""
    if beat.call_time is None:
        return beat.time > seconds + REACH
    return beat.call_time >= seconds
