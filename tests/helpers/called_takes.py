"""Synthesised takes of a person who juggles to the call, as the program plays it."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from takes import CallSound, Objects, Room, Synthesised, synthesise

from throwcount.engine.patterns.flight import DWELL_RATIO
from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.takes.catches import expected_catches
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import Timeline
from throwcount.sounds.mixing.score import mix
from throwcount.sounds.samples import Mono, Samples
from throwcount.sounds.voices.recorded import built_in

CALL_RATE = 48_000
TEMPI = (120, 140, 160, 180, 200, 220, 240, 260)
OBJECTS: tuple[Objects, ...] = ("beanbags", "balls", "clubs")
ANSWERS = (0.3, 0.5, 0.8, 1.2)
PATTERN = "534"
"""Every throw has another word, and a catch falls on every beat."""
JITTER = 0.012
"""Standard deviation of a catch against its beat, in seconds."""

FIRST = 0.3
"""Take time of the first catch at the earliest, where the call began before the take."""


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


@dataclass(frozen=True, slots=True)
class Circumstances:
    """How a take differs from the usual ones.

    Parameters
    ----------
    room
        What becomes of the usual room.
    dwell
        The share of two beats that an object is held. At half of them catches fall on clicks.
    speakers
        What speakers make of the samples that they are given, besides what the room does.
    phone
        What a recorder makes of the sound that reaches it.
    """

    room: Callable[[Room], Room] = lambda room: room
    dwell: float = DWELL_RATIO
    speakers: Callable[[Samples], Samples] = lambda samples: samples
    phone: Callable[[Mono], Mono] = lambda samples: samples


USUAL = Circumstances()


def called_take(
    seed: int, above_noise: float, seconds: float = 30.0, circumstances: Circumstances = USUAL
) -> CalledTake:
    """Make a take whose thuds are so many dB above the noise, and as loud as the call."""
    tempo = TEMPI[seed % len(TEMPI)]
    room = circumstances.room(usual_room(seed, above_noise))
    timeline = practised(tempo, round((seconds - 3) * tempo / 60))
    late = np.random.default_rng((seed, 2)).normal(0, JITTER, 10_000)
    catches = expected_catches(timeline.beats(), circumstances.dwell)
    times = sorted(catch.time + error for catch, error in zip(catches, late, strict=False))
    times = [time for time in times if room.take_time(time) >= FIRST]
    call = CallSound(whole(timeline), CALL_RATE)
    loud = CallSound(circumstances.speakers(call.samples), CALL_RATE)
    quiet, called = (synthesise(times, room, seed=seed, call=sound) for sound in (None, loud))
    return CalledTake(_by(circumstances, quiet), _by(circumstances, called), call, room)


def usual_room(seed: int, above_noise: float) -> Room:
    """Return a room; from seed to seed all but the drift differs."""
    return Room(
        above_noise=above_noise,
        objects=OBJECTS[seed % len(OBJECTS)],
        reverberation=ANSWERS[seed % len(ANSWERS)],
        noise="white" if seed % 5 == 4 else "pink",
        delay=0.4 + 0.0137 * seed,
        drift=100,
    )


def _by(circumstances: Circumstances, take: Synthesised) -> Synthesised:
    return replace(take, samples=circumstances.phone(take.samples))


def practised(tempo: float, beats: int) -> Timeline:
    """Return a pattern with its call, on every beat."""
    return schedule(Run((Part(read(PATTERN), beats=beats),), steady(tempo)))


def whole(timeline: Timeline) -> npt.NDArray[np.float32]:
    """Return all that the speakers are given, shape (frames, 2)."""
    assert timeline.seconds is not None
    return mix(timeline, built_in(CALL_RATE), CALL_RATE).read(round(timeline.seconds * CALL_RATE))
