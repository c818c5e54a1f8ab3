"""A listener that follows a practice, with a microphone and a clock that the test moves."""

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random

import pytest
from handmade import ToneVoice

from throwcount.caller.commands.listen_live import practice_document
from throwcount.caller.options.request import Request
from throwcount.caller.practice.listened_practice import heard_practice
from throwcount.caller.practice.listening import LiveListener
from throwcount.caller.practice.recorder import Tally
from throwcount.caller.practice.situation import Paused, Playing, Resting, Situation
from throwcount.caller.reports.document import take_summary
from throwcount.caller.reports.page import listen_page
from throwcount.caller.reports.take import Expectation
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.tempo_rules import Given
from throwcount.engine.takes.catches import Catch, expected_catches
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.sounds.listening.microphone import DeckHeard, HeardThuds, NewDeck
from throwcount.sounds.listening.thuds import Thud
from throwcount.sounds.output.commands import ScheduledRun
from throwcount.sounds.output.deck import Sent

VOICE = ToneVoice()
OFFSET = 700.0
"""The computer's moment at which the deck's time 0 is heard."""

TICK = 0.05
SLOW = 0.4
"""Seconds until a thud is told."""

LEAD = -0.025
SD = 0.01

PRACTISED = Expectation("531", props="beanbags", pattern=read("531"))


@dataclass
class Player:
    rate: int = 48_000
    now: float = 0.0
    on_command: Callable[[Sent], None] | None = None

    @property
    def anchor(self) -> tuple[float, float]:
        return self.now, OFFSET + self.now

    def heard(self) -> float:
        return self.now


@dataclass
class Microphone:
    player: Player
    thuds: list[float] = field(default_factory=list)
    told: list[object] = field(default_factory=list)
    lost: str = ""
    closed: bool = False
    after: float = -1.0

    def heard_thuds(self) -> HeardThuds:
        until = self.player.now if self.closed else self.player.now - SLOW
        until = self.after if self.lost else until
        new = [Thud(OFFSET + time, 20.0, 0.9) for time in self.thuds if self.after < time <= until]
        self.after = until
        return HeardThuds(tuple(new), OFFSET + until, OFFSET - 2.0)

    def follow(self, told: object) -> None:
        self.told.append(told)

    def fault(self) -> str:
        return self.lost

    def remarks(self) -> list[str]:
        return []

    def close(self) -> None:
        self.closed = True


class PretendController:
    def __init__(self) -> None:
        self.situation: Situation = Resting(0.0)
        self.place = "set 1 of 2"
        self.tally = Tally()
        self.heard: list[float] = []
        self.moments: list[float] = []

    def hear_drop(self, moment: float) -> None:
        self.moments.append(moment)
        self.tally.take(Given("drop", "microphone"))


class Practice:
    """A set of 60 throws of 531 at 180 a minute that begins at 5 s of the deck's clock."""

    def __init__(self, request: Request, beats: int | None = 60, clean_key: str = "") -> None:
        self.player, self.controller = Player(), PretendController()
        self.microphone = Microphone(self.player)
        self.listener = LiveListener(request, self.player, self.microphone, VOICE, clean_key)
        self.scheduled = ScheduledRun(Run((Part(read("531"), beats),), steady(180), ready=1.0), 5.0)
        self.said: list[str] = []

    def catches(self) -> list[Catch]:
        return list(expected_catches(self.scheduled.timeline(VOICE).beats()))

    def juggle(self, until_beat: int = 1000) -> None:
        random = Random(4)
        self.microphone.thuds = sorted(
            self.scheduled.start + catch.time + LEAD + random.gauss(0, SD)
            for catch in self.catches()
            if catch.beat < until_beat
        )

    def play(self, seconds: float, situation: Situation | None = None) -> None:
        self.controller.situation = Playing(self.scheduled) if situation is None else situation
        end = self.player.now + seconds
        while self.player.now < end:
            self.player.now += TICK
            told = self.listener.step(self.controller)
            self.said += [told] if told else []

    def whole(self) -> None:
        self.play(4.0, Resting(5.0))
        self.play((self.scheduled.end or 0.0) - self.player.now)
        self.play(4.0, Resting(100.0))


def test_a_set_is_told_in_a_sentence() -> None:
    practice = Practice(Request())
    practice.juggle()
    practice.whole()
    (told,) = practice.said
    assert told.startswith("Set 1 of 2: ")
    assert "early on the whole; no drop seen. This is" in told
    (heard,) = practice.listener.sets
    steady = heard.report.steadiness
    assert steady is not None
    assert steady.heard == steady.expected > 40
    assert steady.asynchrony_sd == pytest.approx(SD, abs=0.003)
    assert steady.lead == pytest.approx(LEAD, abs=0.005)
    assert practice.controller.tally.drops == 0


@pytest.mark.parametrize(
    ("mark_drops", "clean_key", "dropped", "drops", "fragment"),
    [
        (True, "c", 30, 1, "is marked. c takes it back."),
        (True, "", 30, 1, "is marked."),
        (True, "", 1000, 0, "no drop seen"),
        (True, "", 0, 0, "no catch of 60 heard"),
        (True, "", 4, 0, ""),
        (False, "", 30, 0, "1 drop seen"),
    ],
    ids=["marked", "no key", "clean", "nobody there", "hardly begun", "not asked for"],
)
def test_a_drop_is_marked_where_that_is_asked_for(
    mark_drops: bool, clean_key: str, dropped: int, drops: int, fragment: str
) -> None:
    practice = Practice(Request(mark_drops=mark_drops), clean_key=clean_key)
    practice.juggle(dropped)
    practice.whole()
    assert practice.controller.tally.drops == practice.controller.tally.heard == drops
    assert any(fragment in told for told in practice.said)


def test_a_drop_is_told_within_two_seconds_of_the_catch_that_failed() -> None:
    practice = Practice(Request(mark_drops=True))
    practice.juggle(30)
    failed = next(catch.time for catch in practice.catches() if catch.beat >= 30)
    practice.play(4.0, Resting(5.0))
    while not practice.said:
        practice.play(TICK)
    assert practice.player.now - practice.scheduled.start - failed < SLOW + 2.0


@pytest.mark.parametrize("heard", [8.0, 1.5], ids=["amid the set", "before the first throw"])
def test_a_microphone_that_is_lost_is_told_once_and_the_rest_is_left_out(heard: float) -> None:
    practice = Practice(Request(mark_drops=True))
    practice.juggle()
    practice.play(4.0, Resting(5.0))
    practice.play(heard)
    practice.microphone.lost = "It is gone."
    practice.play(20.0)
    practice.play(5.0, Resting(100.0))
    practice.listener.finish()
    assert practice.said == ["It is gone. The practice goes on without being listened to."]
    assert practice.listener.sets == []
    assert heard_practice(practice.listener, None, PRACTISED).report.known
    assert practice.controller.tally.drops == 0
    assert practice.microphone.closed


def test_a_change_of_tempo_is_followed() -> None:
    practice = Practice(Request(mark_drops=True), beats=90)
    practice.play(4.0, Resting(5.0))
    practice.juggle()
    before = [time for time in practice.microphone.thuds if time < 14.5]
    practice.play(10.0)
    changed = practice.scheduled.at_tempo(150, practice.player.now)
    assert changed is not None
    practice.scheduled = changed.scheduled
    practice.juggle()
    after = [time for time in practice.microphone.thuds if time >= 14.5]
    practice.microphone.thuds = before + after
    playing = Playing(changed.scheduled, changed.pivot - 8)
    practice.play((practice.scheduled.end or 0.0) - practice.player.now, playing)
    practice.play(4.0, Resting(100.0))
    (heard,) = practice.listener.sets
    steady = heard.report.steadiness
    assert steady is not None
    assert steady.heard >= steady.expected - 1
    assert steady.expected > 60
    assert practice.controller.tally.drops == 0
    times = [catch.time for catch in practice.listener.stretches[0].catches()]
    played = [practice.scheduled.start + catch.time for catch in practice.catches()]
    assert times == pytest.approx(played)


@pytest.mark.parametrize("end", [Resting(100.0), Paused()])
def test_what_was_not_thrown_is_not_missed(end: Situation) -> None:
    practice = Practice(Request(mark_drops=True), beats=None)
    practice.scheduled = ScheduledRun(practice.scheduled.run, 5.0)
    practice.play(4.0, Resting(5.0))
    endless = expected_catches(practice.scheduled.timeline(VOICE).beats())
    times = [practice.scheduled.start + next(endless).time + LEAD for _ in range(60)]
    practice.microphone.thuds = [time for time in times if time < 20.0]
    practice.play(16.0)
    practice.play(4.0, end)
    (heard,) = practice.listener.sets
    assert heard.report.drops == ()
    assert practice.controller.tally.drops == 0


def test_the_microphone_is_told_what_is_played() -> None:
    practice = Practice(Request(speaker_delay=0.25))
    assert practice.player.on_command is not None
    sent = Sent(1.0, "some command")
    practice.player.on_command(sent)
    practice.play(0.1, Resting(5.0))
    assert practice.microphone.told[0] is sent
    assert practice.microphone.told[-1] == DeckHeard(practice.player.now, OFFSET + 0.1 + 0.25)
    assert practice.listener.sent == [sent]


def test_after_the_deck_has_restarted_nothing_of_before_is_mixed_in() -> None:
    practice = Practice(Request())
    practice.juggle()
    practice.play(4.0, Resting(5.0))
    practice.play(12.0)
    practice.listener.note_restart()
    assert not practice.listener.whole
    assert (practice.listener.stretches, practice.listener.sent) == ([], [])
    assert NewDeck() in practice.microphone.told


def test_the_whole_practice_is_told_from_its_thuds_where_there_is_no_recording() -> None:
    practice = Practice(Request())
    practice.juggle(40)
    practice.whole()
    practice.listener.finish()
    heard = heard_practice(practice.listener, None, PRACTISED)
    steady, (drop,) = heard.report.steadiness, heard.report.drops
    assert steady is not None
    assert steady.asynchrony_sd == pytest.approx(SD, abs=0.003)
    assert drop.catch is not None
    assert abs(drop.catch.beat - 40) <= 2
    document = practice_document(heard, practice.listener)
    assert json.loads(json.dumps(document)) == document
    (told,) = document["sets"]
    assert (told["heard"], told["expected"], told["drops"]) == (steady.heard, steady.expected, 1)
    assert (document["take"], document["against"]["tempo"]) == (None, 180)
    assert take_summary(heard, "").file == "live"
    headline = next(iter(listen_page(heard)))
    assert str(headline).startswith("This practice, 0:")
