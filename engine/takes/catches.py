"""Catches as expected and thuds as heard, and which catches make one sound.

By Shannon's theorem a throw of value n made on beat i flies n - 2r beats, r being the dwell ratio
(`throwcount.engine.patterns.flight`), and so is caught 2r beats before beat i + n, on which it is
thrown again. Where n <= 2r, which with the usual dwell ratio is a 1, no time is left to fly: the
object is handed over, and its catch is taken to fall half-way, n / 2 beats after the throw. A 0
and a held 2 make no catch.

Thuds come from an onset detector and are kept as arrays.
"""

import math
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from itertools import count, islice
from typing import Final, Protocol, TypeAlias

import numpy as np
import numpy.typing as npt

from throwcount.engine.errors import MalformedError
from throwcount.engine.patterns.flight import DWELL_RATIO, flight_beats
from throwcount.engine.patterns.pattern import VALUE_DIGITS, Hand, Pattern, Throw, other_hand
from throwcount.engine.timing.timeline import Beat

SUDDEN: Final = 0.25
"""A change of the beat's length within one beat, as a share, that no tempo curve makes."""


@dataclass(frozen=True, slots=True)
class Catch:
    """An expected catch."""

    time: float
    """When it falls, in seconds, on the clock of the timeline."""
    beat: int
    """The beat on which it was thrown."""
    hand: Hand
    """The hand that catches."""
    cycle_beat: int | None
    """The beat of its cycle on which it was thrown; None outside the parts."""
    value: int
    """Throw value, 1 to 35."""
    part: str
    """The part in which it was thrown."""
    tempo: float = 0.0
    """Beats a minute at the moment of the catch."""
    throw: str = ""
    """The throw in notation, such as "4x"."""
    object: str = ""
    """The object's name, empty where it is not known."""


def expected_catches(beats: Iterable[Beat], dwell: float = DWELL_RATIO) -> Iterator[Catch]:
    """Yield every catch of a timeline in order of time.

    From each beat to the next the period changes linearly, so that the next beat is met; after the
    last beat its tempo goes on. Where the count of beats starts again, as from set to set of a
    practice, everything thrown before is caught first.

    `beats` are in order of time and may be endless. `dwell` is the dwell ratio, between 0 and 1.

    Raises
    ------
    FlightError
        If the dwell ratio is out of range.
    MalformedError
        If a throw is not in notation.
    """
    ahead = _Ahead(beats)
    flying = _Flying(dwell, ahead)
    before: Beat | None = None
    for beat in ahead:
        if before is not None and beat.beat != before.beat + 1:
            yield from flying.all_caught(before)
        elif before is not None:
            flying.keep(beat)
            yield from flying.caught(before, beat)
        flying.throw(beat)
        before = beat
    if before is not None:
        yield from flying.all_caught(before)


def read_throw(text: str) -> Throw:
    """Return a single throw from its notation, such as "5" or "4x".

    Raises
    ------
    MalformedError
        If it is not in notation.
    """
    digit, crossing = text[:1], text[1:]
    if digit not in VALUE_DIGITS or not digit or crossing not in {"", "x"}:
        raise MalformedError(
            f'"{text}" is no throw: one digit or letter, then an x if it crosses in a pair.', (0,)
        )
    return Throw(VALUE_DIGITS.index(digit), crossing == "x")


def flown_beats(throw: Throw, dwell: float = DWELL_RATIO) -> float:
    """Return how many beats after it is made a throw is caught."""
    flying = flight_beats(throw.value, dwell, crossed=throw.crossed)
    return throw.value / 2 if flying is None else flying


def caught_by(pattern: Pattern, beat: float, thrown: int | None, dwell: float = DWELL_RATIO) -> int:
    """Return how many catches of a run are made by a beat, which may be a fraction.

    `thrown` is the number of beats on which anything is thrown, from beat 0 on; None without end.
    Whatever takes no time to fly is caught half-way to its next throw, as in `expected_catches`.
    """
    caught = 0
    for (turn, _), throw in pattern.throws():
        first = turn * pattern.beats_per_turn
        if not throw.held and (thrown is None or first < thrown):
            rounds = math.floor((beat - first - flown_beats(throw, dwell)) / pattern.period) + 1
            if thrown is not None:
                rounds = min(rounds, -((first - thrown) // pattern.period))
            caught += max(rounds, 0)
    return caught


class _Ahead:
    """Beats in order, of which those to come can be looked at."""

    def __init__(self, beats: Iterable[Beat]) -> None:
        self._beats = iter(beats)
        self._coming: deque[Beat] = deque()

    def __iter__(self) -> Iterator[Beat]:
        while self._fetch(1):
            yield self._coming.popleft()

    def after(self, beat: Beat, beats: int) -> Beat | None:
        """Return the beat so many beats after `beat`, the last one; None if there is none."""
        found = self._coming[beats - 1] if self._fetch(beats) else None
        return found if found is not None and found.beat == beat.beat + beats else None

    def _fetch(self, number: int) -> bool:
        """Return whether there are so many beats to come."""
        self._coming.extend(islice(self._beats, max(number - len(self._coming), 0)))
        return len(self._coming) >= number


class _Flying:
    """The objects thrown and not yet caught, in order of their catch in beats."""

    def __init__(self, dwell: float, ahead: _Ahead) -> None:
        flight_beats(0, dwell)  # refuses a dwell ratio out of range even if nothing is thrown
        self._dwell = dwell
        self._ahead = ahead
        self._order = count()
        self._heap: list[tuple[float, int, Beat, Hand, str, str]] = []

    def throw(self, beat: Beat) -> None:
        hands: tuple[Hand, Hand] = ("right", "left")
        pair = bool(beat.throws.right and beat.throws.left)
        for hand in hands:
            throws, names = getattr(beat.throws, hand), getattr(beat.objects, hand)
            for index, text in enumerate(throws):
                throw = read_throw(text)
                if throw.held or not throw.value:
                    continue
                name = names[index] if index < len(names) else ""
                crosses = throw.crossed
                if throw.value % 2 and not crosses and not pair:
                    crosses = not self._stays(beat, hand, throw.value, name)
                to = other_hand(hand) if crosses else hand
                due = beat.beat + flown_beats(throw, self._dwell)
                heappush(self._heap, (due, next(self._order), beat, to, text, name))

    def _stays(self, beat: Beat, hand: Hand, value: int, name: str) -> bool:
        """Return whether an odd throw that is not marked stays in its hand.

        It crosses where the hands alternate, and stays at a change of timing, which shows in the
        hand that throws the object next.
        """
        landing = self._ahead.after(beat, value) if name else None
        return landing is not None and name in getattr(landing.objects, hand)

    def keep(self, beat: Beat) -> None:
        """Forget the catch of each 1 that a hand kept while it waited, and throws on this beat."""
        for hand in beat.hurried:
            kept = {*getattr(beat.objects, hand)}
            self._heap = [
                flight
                for flight in self._heap
                if flight[4] != "1"
                or not kept.intersection({flight[5]}, getattr(flight[2].objects, hand))
            ]
        heapify(self._heap)

    def caught(self, before: Beat, after: Beat) -> Iterator[Catch]:
        """Yield the catches up to the beat `after`, which follows `before`."""
        length = after.time - before.time
        first = 60 / before.tempo
        bend = length - first
        if abs(bend) > SUDDEN * length:  # the tempo given is not the one that is kept
            first, bend = length, 0.0
        while self._heap and self._heap[0][0] <= after.beat:
            since = self._heap[0][0] - before.beat
            time = before.time + (first + bend * since) * since
            yield self._next(time, 60 / (first + 2 * bend * since))

    def all_caught(self, last: Beat) -> Iterator[Catch]:
        """Yield all remaining catches, at the tempo of the last beat."""
        while self._heap:
            since = self._heap[0][0] - last.beat
            yield self._next(last.time + 60 * since / last.tempo, last.tempo)

    def _next(self, time: float, tempo: float) -> Catch:
        _, _, beat, hand, throw, name = heappop(self._heap)
        value = read_throw(throw).value
        return Catch(time, beat.beat, hand, beat.cycle_beat, value, beat.part, tempo, throw, name)


Floats: TypeAlias = npt.NDArray[np.float64]
Indices: TypeAlias = npt.NDArray[np.int64]

LEAST_WEIGHT: Final = 0.02
"""The lowest weight of a thud, as a share of the usual one."""

CLEAR: Final = 0.3
"""Confidence from which on a thud is clear. One that is not is never told as anything but a catch,
and neither a click nor an echo is known by it."""


class HeardOnset(Protocol):
    """A thud as the onset detector reports it."""

    @property
    def time(self) -> float:
        """Seconds from the start of the take."""

    @property
    def confidence(self) -> float:
        """The confidence that it is a thud, 0 to 1."""

    @property
    def bands(self) -> Sequence[float]:
        """Its level over the background in each band, in dB; none if that is not known."""


@dataclass(frozen=True, slots=True, eq=False)
class Thuds:
    """Thuds of a take, all or some."""

    times: Floats
    """The onset of each, in seconds of the take, in order."""
    confidence: Floats
    """The confidence of each as a share of that of the clear ones, more than 0 and at most 1."""
    bands: Floats | None = None
    """The level of each over the background, in dB, of shape (thuds, bands); None if that is not
    known."""
    likeness: Floats | None = None
    """The factor by which the sound of each changes the odds that it is a catch, more than 0; None
    if that is not known."""

    def __len__(self) -> int:
        return len(self.times)

    @property
    def weights(self) -> Floats:
        """The weight of each as a catch, more than 0."""
        return self.confidence if self.likeness is None else self.confidence * self.likeness

    @property
    def clear(self) -> npt.NDArray[np.bool_]:
        """Whether each is clear."""
        return self.confidence >= CLEAR

    def between(self, start: float, end: float) -> "Thuds":
        """Return the thuds from `start` to `end`, in seconds."""
        first, last = np.searchsorted(self.times, [start, end])
        return self.chosen(slice(first, last))

    def chosen(self, which: "slice | Indices | npt.NDArray[np.bool_]") -> "Thuds":
        """Return some of the thuds."""
        return Thuds(
            self.times[which],
            self.confidence[which],
            None if self.bands is None else self.bands[which],
            None if self.likeness is None else self.likeness[which],
        )


def thuds_of(heard: Sequence[HeardOnset]) -> Thuds:
    """Return thuds as arrays, in order of time."""
    order = sorted(heard, key=lambda thud: thud.time)
    confidence = np.array([thud.confidence for thud in order], dtype=np.float64)
    clear = confidence[confidence >= CLEAR]
    usual = float(np.median(clear)) if len(clear) else 1.0
    relative = np.clip(confidence / usual, LEAST_WEIGHT, 1.0)
    times = np.array([thud.time for thud in order], dtype=np.float64)
    known = bool(order) and all(thud.bands for thud in order)
    return Thuds(times, relative, np.array([thud.bands for thud in order]) if known else None)


def summed(values: Floats, places: Indices, count: int) -> Floats:
    """Return the sum of the values at each of `count` places."""
    return np.bincount(places, values, count).astype(np.float64, copy=False)


MERGED: Final = 0.040
"""Seconds within which two catches are heard as one thud, as their onsets merge."""


def sounds_of(times: Sequence[float]) -> list[tuple[int, ...]]:
    """Return the indices of the catches of each sound, from the times of the catches, in order."""
    sounds: list[tuple[int, ...]] = []
    opened = 0.0
    for index, time in enumerate(times):
        if sounds and time - opened < MERGED:
            sounds[-1] += (index,)
        else:
            sounds.append((index,))
            opened = time
    return sounds
