"""Simulated takes of every kind, with the report on each and whether it is right."""

import math
from dataclasses import dataclass, replace
from itertools import accumulate
from random import Random

import numpy as np
from thud_times import Heard, Manner, Take, catches_of, take_of, wandering

from throwcount.engine.takes.alignment import Aligned, align, align_to_cadence
from throwcount.engine.takes.beat_grid import GridTempo, grid_tempos
from throwcount.engine.takes.catches import Catch, Floats, thuds_of
from throwcount.engine.takes.report import without_stops
from throwcount.engine.takes.steadiness import residuals, steadiness

PATTERNS = ("3", "4", "5", "531", "441", "744", "423", "51", "(4,4)", "(4x,2x)", "[33]33")
NEAR_SD, NEAR_SHARE = 0.003, 0.1
PAIRED_RIGHT = 0.9
NEAR_RATE = 0.02
UNEVEN_SHARE = 0.25
"""By how much wider the sd may seem where no pattern is known, beside `NEAR_SD`. It may be less, as
a cadence follows what changes slowly."""

CUT = 0.3
"""The share of the takes without the call that begin and end amid the run."""


@dataclass(frozen=True, slots=True)
class Case:
    """A take, what was expected on it, and what the juggler's asynchronies were."""

    catches: list[Catch]
    take: Take
    late: list[float]
    placed: bool
    bpm: float
    pattern: str
    noise: bool


def any_case(random: Random, longest: int = 480) -> Case:
    """Return a take of any kind, from a clean one to noise, of so many beats at most."""
    pattern = random.choice(PATTERNS)
    bpm = random.uniform(110, 260)
    catches = catches_of(pattern, bpm, min(random.choice((30, 60, 120, 240, 480)), longest))
    sd = math.exp(random.uniform(math.log(0.004), math.log(0.06)))
    placed = random.random() < 0.6
    late = wandering(random, len(catches), sd, random.choice((0.0, 0.0, 0.4)))
    if not placed:
        own = random.choice((0.0, 0.0, random.uniform(-0.06, 0.06)))
        walk = random.choice((0.0, random.uniform(0, 0.012)))
        steps = accumulate(random.gauss(0, walk) for _ in catches)
        late = [
            off + step + own * (catch.time - catches[0].time)
            for off, step, catch in zip(late, steps, catches, strict=True)
        ]
    manner = Manner(
        sd=sd,
        lead=random.uniform(0.0, 0.09),
        missing=random.choice((0.05, random.uniform(0, 0.6))),
        extra=random.choice((0.05, random.uniform(0, 2.5))),
        ppm=random.uniform(-100, 100),
        start=0.0 if placed else random.uniform(-1, 20),
    )
    take = take_of(catches, random, manner, asynchronies=late)
    if not placed and random.random() < CUT:
        take = _cut(random, take)
    noise = random.random() < 0.15
    if noise:
        take = _noise(random, take)
    return Case(catches, take, late, placed, bpm, pattern, noise)


def _noise(random: Random, take: Take) -> Take:
    count = max(len(take.thuds), 3)
    times = sorted(random.uniform(0, take.seconds) for _ in range(count))
    return Take([Heard(time) for time in times], [()] * count, take.seconds, take.manner)


def _cut(random: Random, take: Take) -> Take:
    """Return a part of a take, as recorded by somebody who came late and left early."""
    start = random.uniform(0.1, 0.5) * take.seconds
    seconds = random.uniform(0.3, 0.5) * take.seconds
    kept = [
        (Heard(thud.time - start), of)
        for thud, of in zip(take.thuds, take.of, strict=True)
        if start <= thud.time <= start + seconds
    ]
    manner = replace(take.manner, start=take.manner.start - start)
    return Take([thud for thud, _ in kept], [of for _, of in kept], seconds, manner)


def judged(case: Case) -> tuple[Aligned, bool] | None:
    """Return the alignment of a take, and whether it is right."""
    thuds = thuds_of(case.take.thuds)
    aligned = align(case.catches, thuds, case.take.seconds, placed=case.placed)
    if aligned is None:
        return None
    aligned, _ = without_stops(aligned)
    about = residuals(aligned)
    if about is None:
        return aligned, False
    paired = [
        bool(set(sound) & set(case.take.of[thud]))
        for sound, thud in zip(aligned.sounds, aligned.thud, strict=True)
        if thud is not None
    ]
    if sum(paired) < PAIRED_RIGHT * len(paired):
        return aligned, False
    found = steadiness(aligned, about).asynchrony_sd
    true = true_sd(*_on_the_take(case))
    return aligned, abs(found - true) <= max(NEAR_SD, NEAR_SHARE * true)


def _on_the_take(case: Case) -> tuple[Floats, Floats]:
    """Return when the catches on the take were due, in seconds of the call, and how late."""
    due = np.array([catch.time for catch in case.catches])
    late = np.array(case.late)
    real = due + late + case.take.manner.start
    inside = (real >= 0) & (real <= case.take.seconds)
    return due[inside], late[inside]


def true_sd(times: Floats, late: Floats) -> float:
    """Return the sd about the straight line through all."""
    return float(np.std(late - np.polyval(np.polyfit(times, late, 1), times)))


def judged_cadence(case: Case) -> tuple[Aligned, bool] | None:
    """Return the beats of the cadence of a take with their thuds, and whether they are right."""
    found = align_to_cadence(thuds_of(case.take.thuds))
    if found is None:
        return None
    aligned, _ = without_stops(found[0])
    about = residuals(aligned)
    windows = grid_tempos(case.take.times)
    if case.noise or about is None:
        return aligned, False
    near = 0
    for window in windows:
        bpm = _kept(case, window)
        per_beat = 0.5 if case.pattern[0] == "(" or case.pattern == "51" else 1.0
        near += abs(window.rate / (bpm * per_beat) - 1) <= NEAR_RATE
    true = true_sd(*_on_the_take(case))
    uneven = steadiness(aligned, about).asynchrony_sd > (1 + UNEVEN_SHARE) * true + NEAR_SD
    return aligned, near >= PAIRED_RIGHT * len(windows) and not uneven


def _kept(case: Case, window: GridTempo) -> float:
    """Return the tempo kept in a window: that asked for, by how much its catches are drawn out."""
    due = np.array([catch.time for catch in case.catches])
    late = np.array(case.late)
    real = due + late + case.take.manner.start
    inside = (real >= window.start) & (real <= window.end)
    if inside.sum() < 4:
        return case.bpm
    slope = np.polyfit(due[inside], late[inside], 1)[0]
    return case.bpm / (1 + float(slope))
