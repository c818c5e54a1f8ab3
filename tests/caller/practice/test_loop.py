"""The beat that is shown is the beat that is heard."""

from itertools import groupby, islice

import pytest

from throwcount.caller.options.request import Request
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.loop import Follower, PracticeLoop
from throwcount.caller.practice.recorder import Recorder, Tally
from throwcount.caller.practice.situation import Playing
from throwcount.caller.terminal.controls import STOP, Control, key_map
from throwcount.caller.terminal.glance import Glance
from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import Timeline
from throwcount.sounds.output.commands import ScheduledRun
from throwcount.sounds.voices.stand_ins import ToneVoice

AHEAD = 24
"""Beats: some seconds of what comes, for the widest line of them."""

REFRESH_SECONDS = 0.03
"""Seconds: a screen that changes thirty times a second looks steady."""

SHORTEST_WAIT = 0.002
"""Seconds: a tenth of what is seen as late, and yet a rest for the processor."""


RATE = 48_000


def timeline_of(text: str, beats: int | None = 12, tempo: float = 120) -> Timeline:
    return schedule(Run((Part(read(text), beats),), steady(tempo)))


@pytest.mark.parametrize("text", ["531", "(4,2x)*", "[33]33"])
def test_the_follower_knows_the_heard_beat_and_those_that_come(text: str) -> None:
    timeline = timeline_of(text)
    beats = list(timeline)
    follower = Follower(timeline, RATE, ahead=5)
    for index, beat in enumerate(beats):
        follower.advance(round(beat.time * RATE) + 100)
        assert follower.beat == beat
        assert follower.glance(0).coming == tuple(beats[index + 1 : index + 6])
        assert not follower.advance(round(beat.time * RATE) + 101)


def test_a_follower_that_was_kept_waiting_goes_on_to_the_heard_beat() -> None:
    beats = list(timeline_of("531"))
    follower = Follower(timeline_of("531"), RATE, ahead=2)
    assert follower.advance(round(beats[9].time * RATE) + 1)
    assert follower.beat == beats[9]


def test_an_endless_practice_keeps_a_few_beats() -> None:
    timeline = timeline_of("531", None)
    follower = Follower(timeline, RATE)
    for beat in islice(timeline, 5000):
        follower.advance(round(beat.time * RATE) + 1)
        assert len(follower.glance(0).coming) == AHEAD


def test_times_are_told_in_whole_seconds() -> None:
    timeline = timeline_of("531")
    first = next(beat.time for beat in timeline if beat.cycle is not None)
    follower = Follower(timeline, RATE)
    assert timeline.seconds is not None
    for frame in range(0, round((first - 2.1) * RATE), RATE // 20):
        follower.advance(frame)
        glance = follower.glance(frame)
        assert glance.seconds_to_throw is not None
        assert 0 <= glance.seconds_to_throw - (first - frame / RATE) < 1
        assert glance.seconds_left is not None
        assert 0 <= glance.seconds_left - (timeline.seconds - frame / RATE) < 1
    follower.advance(round(first * RATE))
    assert follower.glance(round(first * RATE)).seconds_to_throw is None
    assert Follower(timeline_of("531", None), RATE).glance(0).seconds_left is None


class Simulated:
    """Time that passes only while keys are waited for; a player, a screen and keys in it."""

    def __init__(self, presses: dict[float, str], seconds: float) -> None:
        self.now = 0.0
        self.seconds = seconds
        self.shown: list[tuple[float, Glance]] = []
        self.waits: list[float] = []
        self._presses = dict(presses)

    @property
    def over(self) -> bool:
        return self.now >= self.seconds

    def fault(self) -> str:
        return ""

    def heard(self) -> float:
        return self.now

    def show(self, glance: Glance) -> None:
        self.shown.append((self.now, glance))

    def hide(self) -> None:
        raise AssertionError("no one asked for the screen")

    def read(self, seconds: float) -> list[str]:
        self.waits.append(seconds)
        self.now += seconds
        due = [moment for moment in self._presses if moment <= self.now]
        return [self._presses.pop(moment) for moment in due]


class Leader:
    """Plays one run from time 0, and notes what it is asked for."""

    place = ""
    answer = ""

    def __init__(self, run: Run) -> None:
        self.situation = Playing(ScheduledRun(run, 0.0))
        self.tally = Tally()
        self.asked: list[Control] = []

    def begin(self) -> None:
        pass

    def step(self) -> None:
        pass

    def ask(self, control: Control) -> None:
        self.asked.append(control)


def led(time: Simulated, leader: Leader, request: Request | None = None, notice: str = "") -> None:
    session = LiveSession(time, ToneVoice(RATE), Recorder())
    PracticeLoop(request or Request(), session, leader, notice).lead(time, time)


def test_each_beat_is_shown_when_it_is_heard() -> None:
    leader = Leader(Run((Part(read("531"), 30),), steady(260)))
    timeline = leader.situation.scheduled.timeline(ToneVoice(RATE))
    time = Simulated({}, (timeline.seconds or 0) + 1)
    led(time, leader, notice="note")
    for beat in timeline:
        moment = next(now for now, glance in time.shown if glance.beat == beat)
        assert -1 / RATE <= moment - beat.time <= SHORTEST_WAIT + 1 / RATE
    assert all(SHORTEST_WAIT <= wait <= REFRESH_SECONDS for wait in time.waits)
    assert {(glance.cycles, glance.notice) for _, glance in time.shown} == {(10, "note")}


def test_what_is_asked_for_is_passed_on() -> None:
    presses = {0.5: "space", 1.0: "k", 1.5: "q"}
    leader = Leader(Run((Part(read("3"), 12),), steady(120)))
    led(Simulated(presses, 3.0), leader, Request(keys=key_map({"pause": []})))
    assert leader.asked == [STOP]


def test_what_a_set_begins_with_takes_the_place_of_the_notice() -> None:
    class Told(Leader):
        steps = 0

        def step(self) -> None:
            self.steps += 1
            self.answer = "too quick" if 20 < self.steps <= 40 else ""

    time = Simulated({}, 3.0)
    led(time, Told(Run((Part(read("3"), 12),), steady(120))), notice="note")
    notices = [glance.notice for _, glance in time.shown]
    assert [key for key, _ in groupby(notices)] == ["note", "too quick", ""]
    assert notices.count("too quick") == 20
