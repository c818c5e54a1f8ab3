"""When each throw is expected to be caught, and by which hand.

By Shannon's theorem a throw of value n made on beat i flies n - 2r beats, r being the dwell ratio
(see `throwcount.engine.patterns.flight`), and so is caught 2r beats before beat i + n, on which it
is thrown again. Where n <= 2r, which with the usual dwell is a 1, no time is left to fly: the
object is handed over, and its catch is taken to fall half-way, n / 2 beats after the throw. A 0 and
a held 2 are no catches.

The thuds of a take, as they come from a detector and as arrays.

Which catches make one sound: those too close together for anybody to tell apart.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import count
from typing import Final, Protocol, TypeAlias

import numpy as np
import numpy.typing as npt

from throwcount.engine.errors import MalformedError
from throwcount.engine.patterns.flight import DWELL_RATIO, flight_beats
from throwcount.engine.patterns.pattern import VALUE_DIGITS, Hand, Throw, other_hand
from throwcount.engine.timing.timeline import Beat

SUDDEN: Final = 0.25
"""A change within a beat, as a share of it, that no tempo curve makes."""


@dataclass(frozen=True, slots=True)
class Catch:
    """A catch as the timeline has it."""

    time: float
    """When it falls, in seconds, on the clock of the timeline."""
    beat: int
    """The beat on which it was thrown."""
    hand: Hand
    """The hand that catches."""
    cycle_beat: int | None
    """Where in its cycle it was thrown; None outside the parts."""
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

    Between two beats the tempo is that of the first, changing so that the second is met; after
    the last beat its tempo goes on. Where beats begin to count anew, as from set to set of a
    practice, everything thrown before is caught.

    `beats` are in order of time; they need not end. `dwell` is the dwell ratio, between 0 and 1.

    Raises
    ------
    FlightError
        If the dwell ratio is out of range.
    MalformedError
        If a throw is not in notation.
    """
    sky = _Sky(dwell)
    before: Beat | None = None
    for beat in beats:
        if before is not None and beat.beat != before.beat + 1:
            yield from sky.all_down(before)
        elif before is not None:
            yield from sky.down(before, beat)
        sky.throw(beat)
        before = beat
    if before is not None:
        yield from sky.all_down(before)


def read_throw(text: str) -> Throw:
    """Return a throw written on its own, such as "5" or "4x".

    Raises
    ------
    MalformedError
        If it is not in notation.
    """
    digit, crossing = text[:1], text[1:]
    if digit not in VALUE_DIGITS or not digit or crossing not in {"", "x"}:
        raise MalformedError(
            f'"{text}" is no throw: one digit or letter, and an x after it if a pair crosses.', (0,)
        )
    return Throw(VALUE_DIGITS.index(digit), crossing == "x")


def flown_beats(catch: Catch) -> float:
    """Return how many beats after its throw a catch falls due, with the usual dwell ratio."""
    flying = flight_beats(catch.value, crossed=catch.throw.endswith("x"))
    return catch.value / 2 if flying is None else flying


class _Sky:
    """What was thrown and not yet caught, in order of its catch in beats."""

    def __init__(self, dwell: float) -> None:
        flight_beats(0, dwell)  # refuses a dwell ratio that is out of range, thrown or not
        self._dwell = dwell
        self._order = count()
        self._flying: list[tuple[float, int, Beat, Hand, str, str]] = []

    def throw(self, beat: Beat) -> None:
        hands: tuple[Hand, Hand] = ("right", "left")
        for hand in hands:
            throws, names = getattr(beat.throws, hand), getattr(beat.objects, hand)
            for index, text in enumerate(throws):
                throw = read_throw(text)
                flown = _flown(throw, self._dwell)
                if flown is None:
                    continue
                # Throws of odd value cross where the hands alternate; pairs have none.
                crosses = throw.crossed or throw.value % 2 == 1
                to = other_hand(hand) if crosses else hand
                name = names[index] if index < len(names) else ""
                entry = (beat.beat + flown, next(self._order), beat, to, text, name)
                heappush(self._flying, entry)

    def down(self, before: Beat, after: Beat) -> Iterator[Catch]:
        """Yield what is caught up to the beat `after`, which follows on `before`."""
        length = after.time - before.time
        first = 60 / before.tempo
        bend = length - first
        if abs(bend) > SUDDEN * length:  # the tempo noted is not the one that is kept
            first, bend = length, 0.0
        while self._flying and self._flying[0][0] <= after.beat:
            since = self._flying[0][0] - before.beat
            time = before.time + (first + bend * since) * since
            yield self._caught(time, 60 / (first + 2 * bend * since))

    def all_down(self, last: Beat) -> Iterator[Catch]:
        """Yield all that is left, at the tempo of the last beat."""
        while self._flying:
            since = self._flying[0][0] - last.beat
            yield self._caught(last.time + 60 * since / last.tempo, last.tempo)

    def _caught(self, time: float, tempo: float) -> Catch:
        _, _, beat, hand, throw, name = heappop(self._flying)
        value = read_throw(throw).value
        return Catch(time, beat.beat, hand, beat.cycle_beat, value, beat.part, tempo, throw, name)


def _flown(throw: Throw, dwell: float) -> float | None:
    """Return the beats from a throw to its catch; None where nothing is caught."""
    if throw.held or not throw.value:
        return None
    flying = flight_beats(throw.value, dwell, crossed=throw.crossed)
    return throw.value / 2 if flying is None else flying


Floats: TypeAlias = npt.NDArray[np.float64]
Indices: TypeAlias = npt.NDArray[np.int64]

LEAST_WEIGHT: Final = 0.05
"""The weight of a thud that the detector is least sure of."""


class HeardOnset(Protocol):
    """A thud as a detector tells it."""

    @property
    def time(self) -> float:
        """Seconds from the start of the take."""

    @property
    def confidence(self) -> float:
        """How surely it is one, 0 to 1."""


@dataclass(frozen=True, slots=True, eq=False)
class Thuds:
    """All thuds of a take, or some."""

    times: Floats
    """When each begins, in seconds of the take, in order."""
    weights: Floats
    """How much each counts, more than 0, at most 1: 1 for one as sure as they usually are."""

    def __len__(self) -> int:
        return len(self.times)

    def between(self, start: float, end: float) -> "Thuds":
        """Return those from `start` to `end`, in seconds."""
        first, last = np.searchsorted(self.times, [start, end])
        return Thuds(self.times[first:last], self.weights[first:last])


def thuds_of(heard: Sequence[HeardOnset]) -> Thuds:
    """Return thuds as arrays, in order of time."""
    order = sorted(heard, key=lambda thud: thud.time)
    confidence = np.array([thud.confidence for thud in order], dtype=np.float64)
    usual = float(np.median(confidence)) if order else 0.0
    weights = np.clip(confidence / usual, LEAST_WEIGHT, 1.0) if usual > 0 else np.ones(len(order))
    return Thuds(np.array([thud.time for thud in order], dtype=np.float64), weights)


def summed(values: Floats, places: Indices, count: int) -> Floats:
    """Return the sum of the values at each of `count` places."""
    return np.bincount(places, values, count).astype(np.float64, copy=False)


MERGED: Final = 0.040
"""Seconds within which two catches are heard as one thud."""


def sounds_of(times: Sequence[float]) -> list[tuple[int, ...]]:
    """Return the catches of each sound, as indices.

    `times` say when each catch is expected, in order.
    """
    sounds: list[tuple[int, ...]] = []
    opened = 0.0
    for index, time in enumerate(times):
        if sounds and time - opened < MERGED:
            sounds[-1] += (index,)
        else:
            sounds.append((index,))
            opened = time
    return sounds
