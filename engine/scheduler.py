"""A run becomes a timeline: every beat with its time, hands, objects, click and call.

In order: time to fill the hands, an announcement, the count-in, the throws, and the run-out,
in which the clicks go on until the last object is caught.
"""

import math
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import dropwhile, islice
from typing import Final

from engine.calls import STOP, Called, calls
from engine.errors import RunError
from engine.fading import is_heard
from engine.flight import DWELL_RATIO
from engine.objects import BeatTurn, Juggle
from engine.pattern import Hand, Throw, other_hand
from engine.run import Run
from engine.timeline import COUNT_IN, RUN_OUT, Beat, ByHand, Click, ClickHands, Cue, Timeline

SHORTEST_LEAD_IN: Final = 0.25
"""Seconds before the first beat: a word begins before the beat that its centre falls on."""

PAUSE_AFTER_ANNOUNCEMENT: Final = 0.5
TAIL: Final = 1.0
"""Seconds after the last beat, for its sounds to ring out."""

PREPARED_BEATS: Final = 5000
"""How far ahead the words of an endless run are gathered, in beats."""


@dataclass(frozen=True, slots=True)
class Clock:
    """The time of each beat, in seconds from the first sample."""

    run: Run
    first_throw: float

    def time_at(self, beat: int) -> float:
        """Return the time of `beat`; beat 0 is the first throw."""
        return self.first_throw + self.run.tempo.time_at(beat)

    def beat_at(self, seconds: float) -> float:
        """Return the beat at a time: `time_at`, inverted."""
        return self.run.tempo.beat_at(seconds - self.first_throw)


def clock_of(run: Run) -> Clock:
    """Return when each beat of a run falls."""
    return Clock(run, _first_throw(run))


def schedule(run: Run, since: int | None = None) -> Timeline:
    """Return the timeline of a run.

    Parameters
    ----------
    run
        From hands being filled to the last catch.
    since
        The beat from which it is walked, with nothing before it; the whole if None. However late
        that beat is, the walk begins at once.

    Raises
    ------
    RunError
        If a part that is not the last never ends, or has no beats, or the count-in is negative.
    """
    _check(run)
    clock = clock_of(run)
    announced = (Cue(run.ready, run.announcement),) if run.announcement else ()
    return Timeline(
        beats=lambda: _beats(run, clock, since),
        cues=run.prelude + announced if since is None else (),
        seconds=seconds_of(run),
        words=_words(run),
    )


def _check(run: Run) -> None:
    if min(run.count_in, run.ready, run.announcement_seconds, run.lead) < 0:
        raise RunError("Getting ready, the count-in and the lead cannot be negative.")
    for part in run.parts[:-1]:
        if part.beats is None:
            raise RunError(f"{part.title} never ends, so that nothing can follow it.")
    for part in run.parts:
        if part.beats is not None and part.beats < 1:
            raise RunError(f"{part.title} has {part.beats} beats; it needs at least one.")


def _first_throw(run: Run) -> float:
    announced = run.announcement_seconds + PAUSE_AFTER_ANNOUNCEMENT if run.announcement else 0.0
    counted = -run.tempo.time_at(-run.count_in)
    return max(run.ready + announced, SHORTEST_LEAD_IN) + counted


def _beats(run: Run, clock: Clock, since: int | None) -> Iterator[Beat]:
    counted = -run.count_in if since is None else max(since, -run.count_in)
    start = max(counted, 0)
    # From one beat before, as the second value of a pair is called on a beat of its own.
    juggle = Juggle(run, max(start - 1, 0))
    called = dropwhile(lambda each: each[0].beat < start, calls(juggle, run))
    ahead = deque(islice(called, run.lead))
    early = [None if call == STOP else call for _, call in ahead]
    yield from _count_in(run, clock, counted, early)
    for turn, call in _led(called, ahead):
        yield _throw_beat(turn, call, run, clock)
    yield from _run_out(run, clock, max(start, _throws_end(run)), _last_clicked(run, juggle))


def _led(called: Iterator[Called], ahead: deque[Called]) -> Iterator[Called]:
    """Pair each beat with the call of the beat that comes `len(ahead)` later; "stop" stays."""
    for later in called:
        ahead.append(later)
        turn, own = ahead.popleft()
        yield turn, STOP if own == STOP else None if later[1] == STOP else later[1]
    for turn, own in ahead:
        yield turn, STOP if own == STOP else None


def _count_in(run: Run, clock: Clock, start: int, ahead: Sequence[str | None]) -> Iterator[Beat]:
    """Count in; the calls that come before their throws begin on the last of these beats."""
    for beat in range(start, 0):
        click = Click("count-in", _hands_at(run, beat, run.parts[0].pattern.kind == "sync"))
        call = ahead[beat] if beat >= -len(ahead) else None
        time = clock.time_at(beat)
        tempo = run.tempo.tempo_at(beat)
        call_time = None if call is None else time
        yield Beat(beat, time, tempo, COUNT_IN, click=click, call=call, call_time=call_time)


def _throw_beat(turn: BeatTurn, call: str | None, run: Run, clock: Clock) -> Beat:
    cycle, cycle_beat = divmod(turn.since, turn.part.pattern.period)
    time = clock.time_at(turn.beat)
    return Beat(
        beat=turn.beat,
        time=time,
        tempo=run.tempo.tempo_at(turn.beat),
        part=turn.part.title,
        cycle=cycle,
        cycle_beat=cycle_beat,
        throws=_throws_by_hand(turn),
        objects=_objects_by_hand(turn),
        click=_throw_click(turn, cycle_beat) if is_heard(cycle, run.fading.clicks) else None,
        call=call,
        call_time=None if call is None else time,
    )


def _throws_by_hand(turn: BeatTurn) -> ByHand:
    """Return the throws in notation; an empty hand whose turn it is has a 0."""
    names = {hand.hand: tuple(map(str, hand.throws or (Throw(0),))) for hand in turn.hands}
    return ByHand(**names)


def _objects_by_hand(turn: BeatTurn) -> ByHand:
    return ByHand(**{hand.hand: hand.objects for hand in turn.hands})


def _throw_click(turn: BeatTurn, cycle_beat: int) -> Click | None:
    if not turn.hands:
        return None
    hands: ClickHands = "both" if len(turn.hands) > 1 else turn.hands[0].hand
    value = max((throw.value for hand in turn.hands for throw in hand.throws), default=0)
    return Click("throw", hands, accent=cycle_beat == 0, value=value)


def _run_out(run: Run, clock: Clock, start: int, last: int) -> Iterator[Beat]:
    pairs = run.parts[-1].pattern.kind == "sync"
    for beat in range(start, last + 1):
        between = pairs and (beat - _last_start(run)) % 2
        click = None if between else Click("run-out", _hands_at(run, beat, pairs))
        yield Beat(beat, clock.time_at(beat), run.tempo.tempo_at(beat), RUN_OUT, click=click)


def _last_start(run: Run) -> int:
    """Return the first beat of the last part."""
    return sum(part.beats or 0 for part in run.parts[:-1])


def _last_clicked(run: Run, juggle: Juggle) -> int:
    """Return the first beat with a click on which all objects have been caught."""
    caught = [
        math.ceil(landing.beat - 2 * DWELL_RATIO)
        for landing in juggle.landings()
        if not landing.held
    ]
    last = max(caught, default=-1)
    pairs = run.parts[-1].pattern.kind == "sync"
    return last + (last - _last_start(run)) % 2 if pairs else last


def _throws_end(run: Run) -> int:
    """Return the first beat after the throws of a run that ends."""
    return sum(part.beats or 0 for part in run.parts)


def last_beat(run: Run) -> int | None:
    """Return the last beat of its run-out, or of its throws; None for a run that never ends.

    Raises
    ------
    RunError
        If a part does not take over the objects as the one before leaves them.
    """
    if run.parts[-1].beats is None:
        return None
    end = _throws_end(run)
    juggle = Juggle(run, end)
    deque(juggle, maxlen=0)  # walked to the end, where what is still in the air is seen
    return max(end - 1, _last_clicked(run, juggle))


def seconds_of(run: Run) -> float | None:
    """Return the length of a run in seconds, its last sounds included; None if it never ends."""
    last = last_beat(run)
    return None if last is None else clock_of(run).time_at(last) + TAIL


def _hands_at(run: Run, beat: int, pairs: bool) -> ClickHands:
    if pairs:
        return "both"
    hand: Hand = other_hand(run.first) if beat % 2 else run.first
    return hand


def _words(run: Run) -> frozenset[str]:
    """Gather what may be called, from as many beats as hold every word of the usual run."""
    ahead = max(PREPARED_BEATS, sum(part.pattern.period for part in run.parts))
    called = islice(calls(Juggle(run), run), ahead)
    return frozenset(call for _, call in called if call is not None)
