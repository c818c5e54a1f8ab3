"""Layout: a routine with every part at its beat, and the throws from part to part.

Faults are collected and reported together, as far as one does not hide another.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise, product
from typing import Final

from throwcount.engine.errors import EngineError, RoutineError, RoutineFault
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.flight import DWELL_RATIO, NO_CEILING, Room, default_tempo
from throwcount.engine.patterns.pattern import Hand, Pattern, other_hand
from throwcount.engine.routines.joining import Join, Joining, JoiningError
from throwcount.engine.routines.routine import (
    MusicTempo,
    OwnTempo,
    PatternPart,
    RestPart,
    Routine,
    RoutinePart,
    TempoLine,
)
from throwcount.engine.routines.ways import joined, joined_by, joined_in, written_beats
from throwcount.engine.timing.tempo import TempoMap, checked_tempo


def catch_beats(pattern: Pattern, beats: int) -> int:
    """Return how many beats pass, after `beats` beats of a pattern, until everything is caught.

    When the hands throw together, the last of these beats is one on which they do.
    """
    step = pattern.beats_per_turn
    last = 0
    for (turn, _), throw in pattern.throws():
        # The last time that this throw is made.
        made = (beats - 1 - turn * step) // pattern.period * pattern.period + turn * step
        if made >= 0 and not throw.held:
            last = max(last, math.ceil(made + throw.value - 2 * DWELL_RATIO) + 1 - beats)
    return last | 1 if last and step > 1 else last


SECONDS_BETWEEN: Final = 1.0
"""Seconds between two objects that are taken up or put down, at least (common practice)."""

LONGEST_BRIDGE: Final = 40
"""Beats of a bridge that ends on a bar, at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidPart:
    """A part of a routine at its beat."""

    number: int
    """Its number among the parts of the routine, from 1."""
    part: RoutinePart
    """The part as its author wrote it."""
    beat: int
    """Its first beat; 0 is the first throw of the routine."""
    beats: int
    """Its length."""
    change: int = 0
    """Objects taken up (more than 0) or put down (less than 0) on the way into it."""
    joining: Joining | None = None
    """The throws that lead into it, just before `beat`; None after a rest and at the start."""
    first: Hand = "right"
    """The hand of its first beat, if the hands alternate."""
    position: Fraction | None = None
    """The beat of the music that it begins on, from 0; None without music."""

    @property
    def change_beat(self) -> int:
        """The first beat on which the part before is over: that of the bridge, or `beat`."""
        return self.beat - (self.joining.beats if self.joining else 0)


@dataclass(frozen=True, slots=True)
class LaidOut:
    """A routine with every part at its beat."""

    routine: Routine
    """The routine as its author wrote it."""
    parts: tuple[LaidPart, ...]
    """The parts in order."""
    tempo: TempoMap
    """The tempo over all beats."""

    @property
    def beats(self) -> int:
        """Its length, from the first throw to the first beat after the last one."""
        return self.parts[-1].beat + self.parts[-1].beats

    def at_share(self, share: float) -> "LaidOut":
        """Return it at a share of its tempo, with the beats of its music as much later.

        Without music the tempo is kept in range.

        Raises
        ------
        TempoError
            If the music would set a tempo that is out of range.
        """
        music = self.routine.music
        if music is None:
            return replace(self, tempo=self.tempo.scaled(share))
        for tempo in self.tempo.extremes():
            checked_tempo(tempo * share)
        slower = replace(music, times=tuple(time / share for time in music.times))
        routine = replace(self.routine, music=slower)
        return replace(self, routine=routine, tempo=self.tempo.scaled(share))


def lay_out(routine: Routine, room: Room = NO_CEILING) -> LaidOut:
    """Return a routine with every part at its beat.

    `room` limits the tempo of a routine that has none of its own.

    Raises
    ------
    RoutineError
        If it has faults; it holds all of them.
    """
    if routine.music is not None:
        position = _bar_position(routine, routine.parts[0].bar or 1)
        return _Layout(routine, MusicTempo(routine.music, position)).done()
    if routine.tempo is not None:
        return _Layout(routine, OwnTempo(routine.tempo)).done()
    patterns = _without_tempo(routine.parts)
    thrown = list(patterns.values())
    while True:
        tempo = default_tempo(*thrown, room=room)
        laid = _Layout(routine, OwnTempo(float(tempo))).done()
        # What leads from part to part may go higher than any part, and takes a faster tempo then.
        for each in laid.parts:
            if each.joining is not None and each.number in patterns:
                thrown += each.joining.halves
        if default_tempo(*thrown, room=room) == tempo:
            return laid


class _Layout:
    """A routine in the course of its layout."""

    def __init__(self, routine: Routine, line: TempoLine) -> None:
        self._routine = routine
        self._line = line
        self._laid: list[LaidPart] = []
        self._faults = list(_out_of_place(routine.parts))
        self._beat = 0
        self._joining: Joining | None = None
        self._hand: Hand = routine.first
        self._before: PatternPart | None = None
        self._certain = True

    def done(self) -> LaidOut:
        """Lay out all parts and return the result, or raise an error with all faults."""
        if not self._faults:
            row = [*self._routine.parts, None]
            for number, (part, following) in enumerate(pairwise(row), start=1):
                if part is not None:
                    self._lay(number, part, following)
        if self._faults:
            raise RoutineError(tuple(self._faults))
        return LaidOut(self._routine, tuple(self._laid), self._line.tempos())

    def _lay(self, number: int, part: RoutinePart, following: RoutinePart | None) -> None:
        """Lay out a part, and the throws that lead from it to the next."""
        self._check_bar(number, part)
        rests = isinstance(part, RestPart)
        self._line.begin(following if rests and following is not None else part)
        change = self._change(number, part)
        position = self._line.position
        joining, self._joining = self._joining, None
        if isinstance(part, PatternPart) and joining is None:
            self._hand = part.first or self._routine.first
        first = self._hand
        beats, coming = 1, None
        try:
            beats, coming = self._length(part, following)
            self._line.lay(beats, moving=not rests)
            if coming is not None and coming.beats:
                self._line.lay(coming.beats)
        except JoiningError as error:
            self._fault(number + 1, str(error))
        except EngineError as error:
            self._fault(number, str(error))
        self._laid.append(
            LaidPart(
                number=number,
                part=part,
                beat=self._beat,
                beats=beats,
                change=change,
                joining=joining,
                first=first,
                position=position,
            )
        )
        self._joining = coming
        if coming is not None:
            self._hand = hand_after(coming, hand_after_beats(first, beats))
        self._beat += beats + (coming.beats if coming else 0)

    def _fault(self, number: int, sentence: str) -> None:
        self._faults.append(RoutineFault(number, sentence))
        self._certain = False  # from here on no part is where it should be

    def _check_bar(self, number: int, part: RoutinePart) -> None:
        """Note a fault if a part does not begin on its bar, as the part before has its length."""
        position = self._line.position
        if part.bar is None or position is None or not self._certain:
            return
        off = position - _bar_position(self._routine, part.bar)
        if off:
            beats = f"{float(abs(off)):g} beat{'s' if abs(off) != 1 else ''} of the music"
            self._fault(
                number,
                f"{part.title} is to begin on bar {part.bar} and comes {beats} "
                f"{'late' if off > 0 else 'early'}: leave out the length of the part before it, "
                "which then lasts up to the bar.",
            )

    def _change(self, number: int, part: RoutinePart) -> int:
        """Return how many objects are taken up or put down; check it against what is written."""
        if not isinstance(part, PatternPart):
            return 0
        last, self._before = self._before, part
        if last is None:
            return 0
        before, now = last.pattern.objects, part.pattern.objects
        change = now - before
        if part.change is not None and part.change != change:
            self._fault(
                number, f"{part.title} says {_moved(part.change)}, but {_needed(before, now)}."
            )
        elif part.change is None and change and isinstance(self._laid[-1].part, PatternPart):
            self._fault(
                number,
                f"{part.title}: {_needed(before, now)}. Say {_moved(change)}, and it is done in "
                "the course of the throws, or put a rest before it.",
            )
        return change

    def _length(
        self, part: RoutinePart, following: RoutinePart | None
    ) -> tuple[int, Joining | None]:
        """Return the beats of a part, and the throws that lead from it to the next pattern."""
        if part.length.open:
            return self._up_to_bar(part, following)
        if isinstance(part, RestPart):
            beats = part.length.beats
            if beats is None:
                beats = round(self._line.beats_in(part.length.seconds or 0.0))
            return self._rested(part, max(1, beats)), None
        beats = _pattern_beats(part, self._line)
        if not isinstance(following, PatternPart):
            return beats, None
        join = self._join(part, following, beats)
        if following.bridge is not None:
            return beats, joined_by(join, following.bridge)
        return beats, joined(join)

    def _join(self, part: PatternPart, following: PatternPart, beats: int) -> Join:
        """Return what is to be joined after so many beats of a part."""
        in_a_second = max(self._line.beats_in(1.0), (part.to or 0) / 60)
        return Join(
            part.pattern,
            beats // part.pattern.beats_per_turn,
            following.pattern,
            hand_after_beats(self._hand, beats),
            math.ceil(in_a_second * SECONDS_BETWEEN),
            following.shifted,
        )

    def _rested(self, part: RestPart, beats: int) -> int:
        """Return the beats of a rest, if everything in the air before it is caught in that time."""
        before = self._laid[-1]
        if isinstance(before.part, PatternPart):
            caught = catch_beats(before.part.pattern, before.beats)
            if beats < caught:
                raise EngineError(
                    f"{part.title} lasts {counted(beats, 'beat')}, and the last object is "
                    f"caught {counted(caught, 'beat')} after the last throw."
                )
        return beats

    def _up_to_bar(
        self, part: RoutinePart, following: RoutinePart | None
    ) -> tuple[int, Joining | None]:
        """Return the length with which the next part begins on its bar, and the throws to it."""
        if following is None or following.bar is None or self._line.position is None:
            raise EngineError(f"{part.title} has no length: give it cycles, beats or seconds.")
        left = self._line.beats_to(_bar_position(self._routine, following.bar))
        if left.denominator != 1 or left < 1:
            raise EngineError(_no_room(part, following, left))
        if isinstance(part, RestPart) or isinstance(following, RestPart):
            return int(left), None
        return self._shared(part, following, int(left))

    def _shared(self, part: PatternPart, following: PatternPart, beats: int) -> tuple[int, Joining]:
        """Divide beats between a pattern and the throws to the next, which are as few as can be."""
        step = part.pattern.beats_per_turn
        lengths = [
            length
            for length in range(min(LONGEST_BRIDGE, beats - step) + 1)
            if (beats - length) % step == 0
        ]
        for in_haste, length in product((False, True), lengths):
            join = self._join(part, following, beats - length)
            found = _joined_in(join, following, length, in_haste=in_haste)
            if found is not None:
                return beats - length, found
        raise JoiningError(
            f"No throws lead from {part.title} to {following.title} so that it begins on bar "
            f"{following.bar}, {counted(beats, 'beat')} after {part.title} begins."
        )


def _joined_in(join: Join, following: PatternPart, beats: int, *, in_haste: bool) -> Joining | None:
    """Return the throws of so many beats that lead into a part; None if there are none."""
    if following.bridge is None:
        return joined_in(join, beats, in_haste=in_haste)
    if written_beats(join, following.bridge) != beats:
        return None
    return joined_by(join, following.bridge)


def hand_after_beats(first: Hand, beats: int) -> Hand:
    """Return the hand that comes next after some beats of hands in turn."""
    return other_hand(first) if beats % 2 else first


def hand_after(joining: Joining, first: Hand) -> Hand:
    """Return the hand that comes next after a joining that begins with `first`, if in turn."""
    change = joining.change
    if change is None or change.first is None:
        return hand_after_beats(first, joining.beats)
    return hand_after_beats(change.first, joining.beats - change.start)


def _no_room(part: RoutinePart, following: RoutinePart, left: Fraction) -> str:
    if left < 1:
        return (
            f"There is no room for {part.title} before bar {following.bar}, where "
            f"{following.title} begins."
        )
    return (
        f"{part.title} cannot last up to bar {following.bar}: that is {float(left):g} beats, which "
        "are not whole."
    )


def _pattern_beats(part: PatternPart, line: TempoLine) -> int:
    """Return the beats of a pattern; a length in seconds is rounded to whole cycles."""
    pattern, length = part.pattern, part.length
    if length.cycles is not None:
        return length.cycles * pattern.period
    if length.beats is not None:
        return length.beats + length.beats % pattern.beats_per_turn
    cycles = round(line.beats_in(length.seconds or 0.0) / pattern.period)
    return max(1, cycles) * pattern.period


def _out_of_place(parts: tuple[RoutinePart, ...]) -> Iterator[RoutineFault]:
    """Yield the faults in where the rests stand."""
    if not any(isinstance(part, PatternPart) for part in parts):
        yield RoutineFault(None, "A routine has at least one pattern.")
        return
    for number in (1, len(parts)):
        if isinstance(parts[number - 1], RestPart):
            yield RoutineFault(number, "A rest stands between two patterns, and not first or last.")
    for number, (part, following) in enumerate(pairwise(parts), start=2):
        if isinstance(part, RestPart) and isinstance(following, RestPart):
            yield RoutineFault(number, "Two rests follow each other: make them one.")


def _without_tempo(parts: tuple[RoutinePart, ...]) -> dict[int, Pattern]:
    """Return the patterns thrown at the tempo that a routine begins with, by their parts' numbers.

    The pattern that leads away from it counts where there is no stop before, as the throws that
    lead to it are as high.
    """
    found: dict[int, Pattern] = {}
    before: RoutinePart | None = None
    for number, part in enumerate(parts, start=1):
        if isinstance(part, PatternPart):
            if part.tempo is None or isinstance(before, PatternPart):
                found[number] = part.pattern
            if part.tempo is not None or part.to is not None:
                break
        before = part
    return found


def _bar_position(routine: Routine, bar: int) -> Fraction:
    """Return the beat of the music, from 0, on which a bar begins, from 1."""
    a_bar = routine.music.a_bar if routine.music else 1
    return Fraction((bar - 1) * a_bar)


def _moved(change: int) -> str:
    """Return how a routine file states that objects are taken up or put down."""
    return f"pick-up = {change}" if change > 0 else f"put-down = {-change}"


def _needed(before: int, now: int) -> str:
    whose = "as the part before" if now == before else f"and the part before {before}"
    return f"it has {counted(now, 'object')}{',' * (now == before)} {whose}"
