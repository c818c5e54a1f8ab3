"""Takes as long as one likes, written to a file bit by bit: catches, the call, and a quiet room."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile
from takes import MEDIAN_LEVEL, Signal, thud

from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.takes.catches import expected_catches
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import Timeline
from throwcount.sounds.mixing.score import mix
from throwcount.sounds.samples import RATE
from throwcount.sounds.voices.recorded import built_in

PATTERN = "534"
TEMPO = 180
SPREAD = 0.012
"""Standard deviation of a catch against its beat, in seconds."""

NOISE = -50.0
"""Level of the room, in dB below full scale."""

BLOCK = RATE
THUDS = 50
"""Thuds that sound differently."""


def long_run(minutes: float) -> Timeline:
    """Return a practice of about as many minutes."""
    return schedule(Run((Part(read(PATTERN), beats=round(minutes * TEMPO)),), steady(TEMPO)))


def write_long_take(path: Path, minutes: float, *, called: bool = True) -> None:
    """Write a take of somebody who juggles for as many minutes, to the call or without it."""
    timeline = long_run(minutes)
    random = np.random.default_rng(1)
    call = mix(timeline, built_in(RATE), RATE)
    with soundfile.SoundFile(str(path), "w", RATE, 1, "PCM_16", format="WAV") as file:
        for thuds in _thuds(timeline, random):
            sound = thuds + random.normal(0, 10 ** (NOISE / 20), BLOCK)
            if called:
                played = call.read(BLOCK).mean(axis=1)
                sound[: len(played)] += 0.3 * played
            file.write(np.clip(sound, -1, 1))


def _thuds(timeline: Timeline, random: np.random.Generator) -> Iterator[Signal]:
    """Yield the thuds of the catches, block by block."""
    kinds = [thud("beanbags", RATE, random) * 10 ** (MEDIAN_LEVEL / 20) for _ in range(THUDS)]
    sound, first = np.zeros(2 * BLOCK), 0
    for index, catch in enumerate(expected_catches(timeline.beats())):
        start = round((catch.time + random.normal(0, SPREAD)) * RATE)
        while start >= first + BLOCK:
            yield sound[:BLOCK].copy()
            sound = np.concatenate([sound[BLOCK:], np.zeros(BLOCK)])
            first += BLOCK
        kind = kinds[index % THUDS]
        place = max(start - first, 0)
        sound[place : place + len(kind)] += kind
    yield sound[:BLOCK]
    yield sound[BLOCK:]
