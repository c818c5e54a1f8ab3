"""A run in sections: what is thrown between two rests, and the beats of each section.

The beats of a section are its count-in, its throws, its run-out, and the rest after it.
"""

import math
from collections import deque
from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import dropwhile, islice

from throwcount.engine.errors import RunError
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.flight import DWELL_RATIO
from throwcount.engine.patterns.pattern import Hand, Throw, other_hand
from throwcount.engine.scheduling.calls import Called, calls, is_heard
from throwcount.engine.timing.manners import manners_at
from throwcount.engine.timing.objects import BeatTurn, HandTurn, InHands, Juggle
from throwcount.engine.timing.run import Clock, Part, Rest, Run
from throwcount.engine.timing.timeline import COUNT_IN, RUN_OUT, Beat, ByHand, Click, ClickHands


@dataclass(frozen=True, slots=True)
class Section:
    """Parts of a run that follow each other without a rest."""

    run: Run
    """These parts as a run of their own, whose beat 0 is their first throw. Its count-in is that at
    the end of the rest before them. Its tempo is that of the whole run from its beat 0 on."""
    first: int
    """The beat of the whole run on which the section begins."""
    rest: Rest | None = None
    """The rest that follows; None after the last section."""

    @property
    def beats(self) -> int | None:
        """How many beats of throws it has; None without end."""
        last = self.run.closing
        return None if last.beats is None else sum(part.beats or 0 for part in self.run.throwing)


def sections(run: Run) -> Iterator[Section]:
    """Yield the sections of a run in order.

    Raises
    ------
    RunError
        If a rest does not stand between two parts, a part before the last never ends, or a part
        has no beats.
    """
    first, count_in = 0, run.count_in
    parts: list[Part] = []
    for part in run.parts:
        if part.beats is not None and part.beats < 1:
            raise RunError(f"{part.title} has {part.beats} beats; it needs at least one.")
        if isinstance(part, Part):
            parts.append(part)
            continue
        section = _section(run, parts, first, count_in, part)
        if section.beats is None:
            raise RunError(f"{run.closing.title} never ends, so that nothing can follow it.")
        yield section
        first += section.beats + part.beats
        parts, count_in = [], part.count_in
    yield _section(run, parts, first, count_in, None)


def _section(run: Run, parts: list[Part], first: int, count_in: int, rest: Rest | None) -> Section:
    if not parts:
        raise RunError("A rest stands between two parts, and neither opens nor closes a run.")
    for part in parts[:-1]:
        if part.beats is None:
            raise RunError(f"{part.title} never ends, so that nothing can follow it.")
    hand = parts[0].first or run.first
    alone = replace(run, parts=tuple(parts), first=hand, count_in=count_in, cues=())
    return Section(alone, first, rest)


@dataclass(frozen=True, slots=True)
class Handover:
    """What one section passes on to the next."""

    held: InHands | None
    """The objects in each hand; None before the first section."""
    named: int
    """How many objects have a name so far."""
    count_in: int
    """Beats of the next section's count-in."""


@dataclass(frozen=True, slots=True)
class SectionBeats:
    """The beats of a section, counted from its first throw unless said otherwise."""

    section: Section
    """What is thrown."""
    clock: Clock
    """The clock of the whole run."""
    since: int | None = None
    """The first beat that is wanted, counted in the whole run; None for all."""

    def walk(self, before: Handover) -> Generator[Beat, None, Handover]:
        """Yield the beats up to the next section's count-in; return what is passed on to it."""
        run = self.section.run
        first = self._from(-before.count_in)
        start = max(first, 0)
        # From one beat before, as the second value of a pair is called on a beat of its own.
        juggle = Juggle(run.throwing, run.first, max(start - 1, 0), before.held, before.named)
        called = dropwhile(lambda each: each[0].beat < start, calls(juggle, run))
        ahead = deque(islice(called, run.lead))
        yield from self._count_in(first, tuple(map(_unless_stop, ahead)))
        for each in _led(called, ahead) if ahead else called:
            yield self._throw_beat(each)
        return (yield from self._after(juggle))

    def pass_over(self, before: Handover) -> Handover:
        """Return what is passed on to the next section, where no beat of this one is wanted."""
        run = self.section.run
        juggle = Juggle(run.throwing, run.first, self._end, before.held, before.named)
        deque(juggle, maxlen=0)
        return self._handover(juggle, self.last_beat(juggle))

    def last_beat(self, juggle: Juggle) -> int:
        """Return the first beat with a click on which all is caught, or the last throw's beat.

        `juggle` has been walked to its end.
        """
        caught = [
            math.ceil(landing.beat - 2 * DWELL_RATIO)
            for landing in juggle.landings()
            if not landing.held
        ]
        last = max(caught, default=-1)
        if self._pairs:
            last += (last - self._last_start) % 2
        return max(last, self._end - 1)

    @property
    def _pairs(self) -> bool:
        return self.section.run.closing.pattern.kind == "sync"

    @property
    def _end(self) -> int:
        """The first beat after the throws of a section that ends."""
        return sum(part.beats or 0 for part in self.section.run.throwing)

    @property
    def _last_start(self) -> int:
        """The first beat of the last part."""
        return self._end - (self.section.run.closing.beats or 0)

    def _from(self, beat: int) -> int:
        """Return `beat`, or the first beat after it that is wanted."""
        return beat if self.since is None else max(beat, self.since - self.section.first)

    def _beat(self, beat: int, part: str, click: Click | None) -> Beat:
        """Return a beat without throws and without a call."""
        whole = self.section.first + beat
        tempo = self.clock.run.tempo.tempo_at(whole)
        return Beat(whole, self.clock.time_at(whole), tempo, part, click=click)

    def _count_in(self, first: int, ahead: Sequence[Called]) -> Iterator[Beat]:
        """Yield the count-in; on its last beats the calls in `ahead` are made early."""
        pairs = self.section.run.opening.pattern.kind == "sync"
        for beat in range(first, 0):
            click = Click("count-in", self._hands_at(beat, pairs=pairs))
            counted = self._beat(beat, COUNT_IN, click)
            if beat >= -len(ahead) and ahead[beat].call is not None:
                _, call, kind = ahead[beat]
                counted = counted._replace(call=call, call_time=counted.time, call_kind=kind)
            yield counted

    def _throw_beat(self, called: Called) -> Beat:
        turn, call, kind = called
        cycle, cycle_beat = divmod(turn.since, turn.part.pattern.period)
        whole = self.section.first + turn.beat
        time = self.clock.time_at(whole)
        throws, click = _throws_and_click(turn.hands, turn.throwing, accent=cycle_beat == 0)
        change = turn.part.hand_change
        return Beat(
            whole,
            time,
            self.clock.run.tempo.tempo_at(whole),
            turn.part.title,
            cycle,
            cycle_beat,
            throws,
            _by_hand(turn.hands, turn.objects),
            click if is_heard(cycle, self.section.run.fading.clicks) else None,
            call,
            None if call is None else time,
            turn.part.how,
            (change.hand,) if change is not None and change.since == turn.since else (),
            _moved(turn, up=True) if turn.moved else ByHand(),
            _moved(turn, up=False) if turn.moved else ByHand(),
            kind,
            _manners(turn) if turn.part.manners else ByHand(),
        )

    def _after(self, juggle: Juggle) -> Generator[Beat, None, Handover]:
        """Yield the run-out and what is left of the rest; return what is passed on."""
        last = self.last_beat(juggle)
        handover = self._handover(juggle, last)
        for beat in range(self._from(self._end), last + 1):
            between = self._pairs and (beat - self._last_start) % 2
            click = None if between else Click("run-out", self._hands_at(beat, pairs=self._pairs))
            yield self._beat(beat, RUN_OUT, click)
        rest = self.section.rest
        if rest is not None:
            counted = self._end + rest.beats - handover.count_in
            for beat in range(self._from(last + 1), counted):
                yield self._beat(beat, rest.title, None)
        return handover

    def _handover(self, juggle: Juggle, last: int) -> Handover:
        rest = self.section.rest
        count_in = 0 if rest is None else _room_to_count_in(rest, last + 1 - self._end)
        return Handover(juggle.in_hands(), juggle.named, count_in)

    def _hands_at(self, beat: int, *, pairs: bool) -> ClickHands:
        if pairs:
            return "both"
        closing, start = self.section.run.closing, self._last_start
        first: Hand = self.section.run.first
        if closing.first is not None and beat >= start:
            first, beat = closing.first, beat - start
        return other_hand(first) if beat % 2 else first


def _room_to_count_in(rest: Rest, caught: int) -> int:
    """Return how many beats of a rest are counted in, if catches take `caught` of them."""
    if caught > rest.beats:
        raise RunError(
            f"The {rest.title} of {counted(rest.beats, 'beat')} is over before the "
            f"last object is caught; that takes {caught}."
        )
    return min(rest.count_in, rest.beats - caught)


def _led(called: Iterator[Called], ahead: deque[Called]) -> Iterator[Called]:
    """Pair each beat with the call of the beat `len(ahead)` later; "stop" stays in place."""
    for later in called:
        ahead.append(later)
        own = ahead.popleft()
        yield own if own.kind == "stop" else _unless_stop(later)._replace(turn=own.turn)
    for own in ahead:
        yield own if own.kind == "stop" else Called(own.turn, None)


def _unless_stop(called: Called) -> Called:
    """Return a beat with its call, or without one if that is "stop"."""
    return Called(called.turn, None) if called.kind == "stop" else called


def _moved(turn: BeatTurn, *, up: bool) -> ByHand:
    """Return the objects that each hand takes up on a beat, or puts down."""
    hands: tuple[Hand, Hand] = ("right", "left")
    moved = [each for each in turn.moved if each.up == up]
    return ByHand(*(tuple(each.object for each in moved if each.hand == hand) for hand in hands))


def _manners(turn: BeatTurn) -> ByHand:
    """Return how each hand of a beat makes its throws, where that is in a manner of its own."""
    made = [
        tuple(manner.how if manner else "" for manner in throws) if any(throws) else ()
        for throws in manners_at(turn)
    ]
    return _by_hand(turn.hands, made)


def _by_hand(hands: tuple[HandTurn, ...], names: Sequence[tuple[str, ...]]) -> ByHand:
    """Return what these hands throw, given its names for each of them."""
    return ByHand(**{hand.hand: named for hand, named in zip(hands, names, strict=True)})


@lru_cache(maxsize=1024)
def _throws_and_click(
    hands: tuple[HandTurn, ...], throwing: tuple[HandTurn, ...], *, accent: bool
) -> tuple[ByHand, Click | None]:
    """Return the throws in notation and their click; an empty hand throws a 0.

    `hands` are those whose turn it is, and `throwing` those of them that do not wait.
    """
    throws = _by_hand(hands, [tuple(map(str, hand.throws or (Throw(0),))) for hand in hands])
    if not throwing:
        return throws, None
    which: ClickHands = "both" if len(throwing) > 1 else throwing[0].hand
    value = max((throw.value for _, thrown in throwing for throw in thrown), default=0)
    return throws, Click("throw", which, accent=accent, value=value)
