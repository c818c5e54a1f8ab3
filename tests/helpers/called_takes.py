"""Synthesised takes of a person who juggles to the call, as the program plays it."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from takes import CallSound, Objects, Room, Synthesised, synthesise

from engine.catching.expected import expected_catches
from engine.jugglable import read
from engine.run import Part, Run
from engine.scheduler import schedule
from engine.tempo import steady
from engine.timeline import Timeline
from sounds.recorded import built_in
from sounds.score import mix

CALL_RATE = 48_000
TEMPI = (120, 140, 160, 180, 200, 220, 240, 260)
OBJECTS: tuple[Objects, ...] = ("beanbags", "balls", "clubs")
ANSWERS = (0.3, 0.5, 0.8, 1.2)
PATTERN = "534"
"""Every throw has another word, and a catch falls on every beat."""
JITTER = 0.012
"""Standard deviation of a catch against its beat, in seconds."""


@dataclass(frozen=True, eq=False)
class CalledTake:
    """The same person in the same room, with the speakers on and without them.

    Parameters
    ----------
    quiet, called
        The take without the call's sound and with it; the rest of them is the same.
    call
        What the speakers played.
    room
        Where it was.
    """

    quiet: Synthesised
    called: Synthesised
    call: CallSound
    room: Room


def called_take(seed: int, above_noise: float, seconds: float = 30.0) -> CalledTake:
    """Make a take whose thuds are so many dB above the noise, and as loud as the call."""
    tempo = TEMPI[seed % len(TEMPI)]
    room = Room(
        above_noise=above_noise,
        objects=OBJECTS[seed % len(OBJECTS)],
        reverberation=ANSWERS[seed % len(ANSWERS)],
        noise="white" if seed % 5 == 4 else "pink",
        delay=0.4 + 0.0137 * seed,
        drift=100,
    )
    timeline = practised(tempo, round((seconds - 3) * tempo / 60))
    late = np.random.default_rng((seed, 2)).normal(0, JITTER, 10_000)
    catches = expected_catches(timeline.beats())
    times = sorted(catch.time + error for catch, error in zip(catches, late, strict=False))
    call = CallSound(whole(timeline), CALL_RATE)
    quiet = synthesise(times, room, seed=seed)
    return CalledTake(quiet, synthesise(times, room, seed=seed, call=call), call, room)


def practised(tempo: float, beats: int) -> Timeline:
    """Return a pattern with its call, on every beat."""
    return schedule(Run((Part(read(PATTERN), beats=beats),), steady(tempo)))


def whole(timeline: Timeline) -> npt.NDArray[np.float32]:
    """Return all that the speakers are given, shape (frames, 2)."""
    assert timeline.seconds is not None
    return mix(timeline, built_in(CALL_RATE), CALL_RATE).read(round(timeline.seconds * CALL_RATE))
