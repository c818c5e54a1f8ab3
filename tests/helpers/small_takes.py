"""A few takes made of the recorded impacts in `impacts/`, small enough for every run of the tests.

What happens on them is planned as for the large bank (`bank_plans`); their room is one of `takes`.
"""

from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile
import soxr
from bank_plans import Plan
from recorded_sounds import Signal, levelled
from takes import Room, in_room

from throwcount.sounds.samples import RATE, Mono

FOLDER = Path(__file__).parent / "impacts"
NOISE = -30.0
"""In dB over the loudest 10 ms of the median catch."""
CLICKS = 14.0
"""The same of clicks that drown the catches, at their peak."""
SLAP_SECONDS, SLAP_LEVEL = 0.054, -3.0


@lru_cache(maxsize=1)
def clips() -> tuple[Signal, ...]:
    """Return the recorded impacts."""
    found = []
    for path in sorted(FOLDER.glob("*.flac")):
        samples, rate = soundfile.read(path)
        found.append(levelled(soxr.resample(samples, rate, RATE), RATE))
    return tuple(found)


def small_take(plan: Plan, *, slap: bool = False, aloud: bool = False) -> Mono:
    """Return a recording of what happens by a plan, at `RATE`.

    `slap` tells whether a bare wall echoes, and `aloud` whether the clicks of the call drown all.
    """
    random = np.random.default_rng(plan.seed)
    length = round(plan.seconds * RATE)
    sound = np.zeros(length)
    for event in plan.events:
        clip = clips()[int(random.integers(len(clips())))]
        _add(sound, clip * 10 ** (event.level / 20), plan.take_time(event.time))
    if aloud:
        played = plan.piece().sound().read(length).mean(axis=1).astype(np.float64)
        level = 10 ** (CLICKS / 20) / np.abs(played).max()
        _add(sound, soxr.resample(played * level, RATE, RATE), plan.take_time(0.0))
    sound = in_room(sound, RATE, Room(), random)
    if slap:
        late = round(SLAP_SECONDS * RATE)
        sound[late:] += 10 ** (SLAP_LEVEL / 20) * sound[:-late].copy()
    sound += 10 ** (NOISE / 20) * random.normal(size=length)
    return (sound / np.abs(sound).max() / 2).astype(np.float32)


def _add(onto: Signal, sound: Signal, time: float) -> None:
    start = round(time * RATE)
    cut = sound[max(-start, 0) :]
    part = onto[max(start, 0) : max(start, 0) + len(cut)]
    part += cut[: len(part)]
