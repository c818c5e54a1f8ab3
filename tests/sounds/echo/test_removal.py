"""The call taken out of what a microphone hears meanwhile, and the call as a deck plays it."""

import numpy as np
import pytest
import soxr
from agreement import agreement
from takes import CallSound, Room, synthesise

from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.takes.catches import expected_catches
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.sounds.echo.removal import DeckCall
from throwcount.sounds.listening.microphone_child import BLOCK, InputBlock, Listener
from throwcount.sounds.output.commands import Learn, Play, ScheduledRun
from throwcount.sounds.output.deck import Replay, Sent
from throwcount.sounds.samples import RATE
from throwcount.sounds.voices.recorded import built_in

CALL_RATE = 48_000
START = 3000.0
"""The computer's moment of the take's first frame."""

NOT_TOLD = 0.09
"""Seconds of delay that the devices do not tell of."""

READY = 4.0
WANTED = 0.95
VOICE = built_in(CALL_RATE)


def commands(beats: int) -> list[Sent]:
    text = "five three four, tempo two hundred"
    run = Run(
        (Part(read("534"), beats),),
        steady(200),
        ready=READY,
        announcement=text,
        announcement_seconds=3.0,
    )
    VOICE.prepare([text])
    scheduled = ScheduledRun(run, 0.25)
    clips = {each: tuple(VOICE.clips(each)) for each in scheduled.texts()}
    return [Sent(0.0, Learn(clips)), Sent(0.01, Play(scheduled))]


def played(sent: list[Sent], seconds: float) -> CallSound:
    replay = Replay(CALL_RATE, seconds)
    for each in sent:
        replay.note(each)
    return CallSound(replay.read(round(seconds * CALL_RATE)), CALL_RATE)


def test_frames_of_the_call_are_those_that_are_played() -> None:
    sent = commands(12)
    whole = soxr.resample(played(sent, 12.0).samples, CALL_RATE, RATE)
    call = DeckCall(CALL_RATE)
    assert not call.is_placed
    for each in sent:
        call.note(each)
    call.hear(2.0, START + 2.0)
    assert call.frame_at(START + 5.0) == 5 * RATE
    assert not call.read(-RATE, RATE).any()
    for first in (7 * RATE, 6 * RATE, round(7.7 * RATE)):
        assert np.allclose(call.read(first, RATE), whole[first : first + RATE], atol=1e-3)


@pytest.mark.parametrize("level", [0.0, 8.0])
def test_thuds_are_heard_beside_the_call(level: float) -> None:
    """As loud as the median thud, and far louder; learnt before the first throw."""
    sent = commands(50)
    scheduled = sent[1].command.scheduled  # type: ignore[union-attr] - it plays
    beats = list(schedule(scheduled.run).beats())
    random = np.random.default_rng(5)
    times = [scheduled.start + catch.time + random.normal(-0.02, 0.012)
             for catch in expected_catches(beats)]  # fmt: skip
    seconds = scheduled.end or 0.0
    room = Room(call_level=level, delay=NOT_TOLD)
    take = synthesise(sorted(times), room, seed=6, call=played(sent, seconds), seconds=seconds)
    call = DeckCall(CALL_RATE)
    for each in sent:
        call.note(each)
    listener, found = Listener(RATE, call), []
    for start in range(0, len(take.samples), BLOCK):
        moment = START + start / RATE
        call.hear(start / RATE, moment + random.normal(0, 0.001))
        told = listener.push(InputBlock(take.samples[start : start + BLOCK], moment))
        found += [] if told is None else [thud.time - START for thud in told.thuds]
    last = listener.finish()
    assert last is not None
    assert last.begun == pytest.approx(START, abs=0.001)
    found += [thud.time - START for thud in last.thuds]
    since = min(times) - 0.1
    agreed = agreement(
        [time for time in take.thuds if time > since], [time for time in found if time > since]
    )
    assert min(agreed.precision, agreed.recall) >= WANTED, agreed
