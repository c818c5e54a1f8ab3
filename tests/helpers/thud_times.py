"""Simulated takes as times of thuds, with everything known that a listener has to find out."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from random import Random

from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.takes.catches import Catch, expected_catches
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import TempoMap, steady

MERGED = 0.040
"""Seconds within which two catches make one thud."""

TO_THE_FLOOR = (0.18, 0.45)
"""Seconds after a catch that fails in which its object is heard on the floor."""


@dataclass(frozen=True, slots=True)
class Heard:
    """A thud."""

    time: float
    confidence: float = 1.0
    bands: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Manner:
    """How a juggler keeps to the beat, and how a take turns out.

    sd, lead and correlation (of one asynchrony with the next) are the juggler's, in seconds;
    missing, extra (shares of the catches), ppm (of the clock) and start (seconds of take time at
    time 0 of the call) are the recording's.
    """

    sd: float = 0.015
    lead: float = 0.05
    correlation: float = 0.0
    missing: float = 0.05
    extra: float = 0.05
    ppm: float = 100.0
    start: float = 0.0
    merged: float = MERGED


@dataclass(frozen=True, slots=True)
class Dropped:
    """An object that is dropped.

    Parameters
    ----------
    catch
        The index of the catch that fails.
    reaction
        Beats for which throws go on.
    others
        The chance that what is in the air by then is caught.
    floor
        The chance that the object is heard on the floor.
    resumed
        Seconds after which the pattern goes on; None for never.
    alone
        Whether the pattern goes on at once, without this object.
    """

    catch: int = 0
    reaction: float = 1.5
    others: float = 0.6
    floor: float = 0.8
    resumed: float | None = None
    alone: bool = False

    def at(self, catch: int) -> "Dropped":
        """Return the same drop of another catch."""
        return replace(self, catch=catch)


@dataclass(frozen=True, slots=True)
class Take:
    """What was simulated: thuds in order, and for each the catches it is of (none for an extra)."""

    thuds: list[Heard]
    of: list[tuple[int, ...]]
    seconds: float
    manner: Manner = field(default_factory=Manner)

    @property
    def times(self) -> list[float]:
        return [thud.time for thud in self.thuds]


def catches_of(text: str, bpm: float | TempoMap, beats: int) -> list[Catch]:
    """Return the catches of a pattern, two seconds and a count-in into the call."""
    tempo = bpm if isinstance(bpm, TempoMap) else steady(bpm)
    run = Run((Part(read(text), beats),), tempo, ready=2.0)
    return list(expected_catches(schedule(run)))


def take_of(
    catches: Sequence[Catch],
    random: Random,
    manner: Manner = Manner(),
    drops: Sequence[Dropped] = (),
    asynchronies: Sequence[float] | None = None,
) -> Take:
    """Return a take of these catches; `asynchronies`, if given, are the juggler's to the second."""
    late = asynchronies or wandering(random, len(catches), manner.sd, manner.correlation)
    made = [True] * len(catches)
    floor: list[float] = []
    for drop in drops:
        _drop(catches, drop, random, made, floor)
    events = [
        (catch.time - manner.lead + late[index], (index,))
        for index, catch in enumerate(catches)
        if made[index] and random.random() >= manner.missing
    ]
    first, last = catches[0].time - 1, catches[-1].time + 1
    extra = round(manner.extra * len(catches))
    events += [(random.uniform(first, last), ()) for _ in range(extra)]
    events += [(time, ()) for time in floor]
    rate = 1 + manner.ppm * 1e-6
    placed = sorted((manner.start + time * rate, of) for time, of in events)
    merged = _merged([event for event in placed if event[0] >= 0], manner.merged)
    seconds = manner.start + (last + 2) * rate
    thuds = [Heard(time) for time, _ in merged]
    return Take(thuds, [of for _, of in merged], seconds, manner)


def wandering(random: Random, count: int, sd: float, correlation: float = 0.0) -> list[float]:
    """Return normal asynchronies with this sd, each correlated with the one before."""
    fresh = sd * (1 - correlation**2) ** 0.5
    values: list[float] = []
    for _ in range(count):
        before = values[-1] if values else random.gauss(0, sd)
        values.append(correlation * before + random.gauss(0, fresh))
    return values


def _merged(
    events: list[tuple[float, tuple[int, ...]]], within: float
) -> list[tuple[float, tuple[int, ...]]]:
    """Let what follows the start of a thud within so many seconds vanish in it."""
    thuds: list[tuple[float, tuple[int, ...]]] = []
    for time, of in events:
        if thuds and time - thuds[-1][0] < within:
            thuds[-1] = (thuds[-1][0], thuds[-1][1] + of)
        else:
            thuds.append((time, of))
    return thuds


def _drop(
    catches: Sequence[Catch], drop: Dropped, random: Random, made: list[bool], floor: list[float]
) -> None:
    lost = catches[drop.catch]
    beat = 60 / lost.tempo
    again = lost.time + drop.resumed if drop.resumed is not None else float("inf")
    stopped = lost.time + drop.reaction * beat
    made[drop.catch] = False
    for index in range(drop.catch + 1, len(catches)):
        catch = catches[index]
        thrown = catch.time - (catch.value - 4 / 3) * beat
        if thrown >= again:
            break
        if catch.object == lost.object:
            made[index] = False
        elif not drop.alone:
            made[index] &= thrown < stopped and random.random() < drop.others
    if random.random() < drop.floor:
        floor.append(lost.time + random.uniform(*TO_THE_FLOOR))
