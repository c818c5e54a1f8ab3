"""A practice led through its sets and rests, on a deck whose clock the test moves."""

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest
from handmade import RATE, ToneVoice
from pretend_deck import SOON, Deck, Diary

from throwcount.caller.log.log import PracticeLog
from throwcount.caller.options.request import Request
from throwcount.caller.pieces.pattern import pattern_piece
from throwcount.caller.practice.controller import Ended, Paused, Playing, Resting, rest_calls
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.pattern_controller import PatternController
from throwcount.caller.practice.recorder import LogRecorder, Recorder
from throwcount.caller.practice.sessions import practice_summary
from throwcount.caller.terminal.controls import (
    AGAIN,
    BACK,
    CLEAN,
    DROP,
    FASTER,
    NEXT,
    PAUSE,
    SLOWER,
    STOP,
    VOICE,
)
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.tempo_rules import Rule, Staircase
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.sounds.output.commands import Command, Continue, End, Play, Say, Silence, SpeakUp

AGAIN_READY = 3.0
"""Seconds in which hands are filled again."""


WORD = 0.5
TICK = 0.125


class PractisedSets:
    """A practice of sets of 12 throws of 531 at 120 beats a minute, 6 s each."""

    def __init__(
        self, rule: Rule | None = None, recorder: Recorder | None = None, **changes: object
    ) -> None:
        usual = {"tempo": 120, "beats": 12, "sets": 3, "rest": 20.0, "ready": 8.0}
        request = Request(**usual | changes)
        self.deck = Deck()
        self.diary = Diary()
        voice = ToneVoice([round(WORD * RATE)])
        session = LiveSession(self.deck, voice, recorder or self.diary)
        piece = pattern_piece(read("531"), request, voice, cycles=None)
        stairs = None if rule is None else Staircase(120.0, rule)
        self.controller = PatternController(request, piece, session, stairs)
        self.controller.begin()

    def wait(self, until: Callable[[], object], limit: float = 600.0) -> None:
        end = self.deck.now + limit
        while not until():
            assert self.clock() < end, "it never came to that"
            self.controller.step()

    def clock(self) -> float:
        self.deck.now += TICK
        return self.deck.now

    def wait_for(self, kind: type) -> None:
        self.wait(lambda: isinstance(self.controller.situation, kind))

    def wait_until_beat(self, beat: int) -> None:
        situation = self.controller.situation
        assert isinstance(situation, Playing)
        moment = situation.scheduled.time_at(beat)
        self.wait(lambda: self.deck.now >= moment)

    def said(self) -> list[str]:
        return [command.text for command in self.deck.sent if isinstance(command, Say)]

    def last(self, kind: type) -> Command:
        return next(command for command in reversed(self.deck.sent) if isinstance(command, kind))


def test_a_practice_leads_itself() -> None:
    practice = PractisedSets(raise_by=10.0)
    practice.wait_for(Ended)
    sets = [command.scheduled for command in practice.deck.sent if isinstance(command, Play)]
    assert [scheduled.run.tempo.start for scheduled in sets] == [120, 130, 140]
    assert [scheduled.run.announcement for scheduled in sets] == [
        f"five three one, tempo one hundred {tempo}, right two, left one, right hand first"
        for tempo in ("twenty", "thirty", "forty")
    ]
    assert {scheduled.run.closing.last_cycle for scheduled in sets} == {"last one"}
    assert practice.said() == ["rest", "ten seconds"] * 2 + ["tempo one hundred fifty"]
    assert isinstance(practice.deck.sent[-1], End)
    assert practice.diary.lines == [
        "set at 120", "finished after 12",
        "set at 130", "finished after 12",
        "set at 140", "finished after 12",
    ]  # fmt: skip
    gaps = [later.start - earlier.end for earlier, later in pairwise(sets)]
    assert all(20 <= gap < 20 + 2 * SOON + 2 * TICK for gap in gaps)


@pytest.mark.parametrize(
    ("seconds", "calls"),
    [
        (5.0, ["rest"]),
        (15.0, ["rest", "ten seconds"]),
        (40.0, ["rest", "thirty seconds", "ten seconds"]),
        (90.0, ["rest", "sixty seconds", "thirty seconds", "ten seconds"]),
    ],
)
def test_what_is_said_in_a_rest(seconds: float, calls: list[str]) -> None:
    assert [text for _, text in rest_calls(seconds)] == calls


RESTS = ["rest", "ten seconds", "tempo one hundred twenty"]
ANNOUNCED = "five three one, tempo one hundred twenty, right two, left one, right hand first"


@pytest.mark.parametrize(
    ("asked", "announced", "called", "between"),
    [
        ({}, ANNOUNCED, ["last one", "stop"], RESTS),
        ({"announce": False}, "", ["last one", "stop"], RESTS),
        ({"stop_word": False}, ANNOUNCED, [], RESTS),
        ({"speak_rests": False}, ANNOUNCED, ["last one", "stop"], []),
        ({"milestones": True}, ANNOUNCED, ["flash", "qualified", "last one", "stop"], RESTS),
        ({"announce": False, "stop_word": False, "speak_rests": False}, "", [], []),
    ],
)
def test_say_nothing_silences_the_throws_only(
    asked: dict[str, bool], announced: str, called: list[str], between: list[str]
) -> None:
    practice = PractisedSets(say="nothing", sets=2, **asked)
    practice.wait_for(Ended)
    sets = [command.scheduled for command in practice.deck.sent if isinstance(command, Play)]
    assert [scheduled.run.announcement for scheduled in sets] == [announced] * 2
    for scheduled in sets:
        calls = [beat.call for beat in schedule(scheduled.run) if beat.cycle is not None]
        assert [call for call in calls if call] == called
    assert practice.said() == between


def test_rounds_have_longer_rests() -> None:
    practice = PractisedSets(sets=2, rounds=2, round_rest=45.0)
    places, rests = [], []
    for _ in range(3):
        places.append(practice.controller.place)
        practice.wait_for(Resting)
        situation = practice.controller.situation
        rests.append(round(situation.until - practice.deck.now - SOON))
        practice.wait_for(Playing)
    assert rests == [20, 45, 20]
    assert places == ["set 1 of 2, round 1 of 2", "set 2 of 2, round 1 of 2",
                      "set 1 of 2, round 2 of 2"]  # fmt: skip


def test_the_staircase_follows_the_marks() -> None:
    rule = Rule(clean_sets=1, largest_step=8, smallest_step=4)
    practice = PractisedSets(rule, sets=None, staircase=True, unmarked="clean")
    tempos = []
    for asked in (None, CLEAN, DROP, None, DROP):
        practice.wait_for(Playing)
        tempos.append(practice.controller.tempo)
        practice.wait_until_beat(3)
        if asked is not None:
            practice.controller.ask(asked)
        practice.wait_for(Resting)
    assert tempos == [120, 128, 136, 132, 136]
    assert (practice.controller.tally.clean, practice.controller.tally.drops) == (1, 2)
    assert [line for line in practice.diary.lines if " on " in line] == [
        "clean on 3", "drop on 3", "drop on 3",
    ]  # fmt: skip
    assert practice.controller.settled is None
    practice.wait_for(Playing)
    # It turned at 136, 132 and 136, and its steps were smallest from the second turn on.
    assert practice.controller.settled == 134
    assert "The staircase has settled at about 134 beats a minute." in practice_summary(
        practice.controller
    )


def test_a_mark_in_the_rest_counts_for_the_set_before() -> None:
    practice = PractisedSets(Rule(clean_sets=1))
    practice.wait_for(Resting)
    practice.controller.ask(DROP)
    practice.wait_for(Playing)
    assert practice.controller.tempo == 112
    assert practice.diary.lines == ["set at 120", "finished after 12", "drop on None", "set at 112"]


ONE_STEP = {"rule": Rule(clean_sets=1), "sets": 4, "unmarked": "clean"}


@pytest.mark.parametrize(
    ("beat", "asked", "marks", "tempos"),
    [
        # 120, up to 128, up to 136, and up to 144 without any mark.
        (None, (), [], [120, 128, 136, 144]),
        # In the ready time, announcement and count-in of set 2, whose tempo is decided; set 3
        # follows from a drop at 120, down to 112, and the clean second set, up by half a step.
        (None, (DROP,), [(1, "drop")], [120, 128, 116, 120]),
        (-4, (DROP,), [(1, "drop")], [120, 128, 116, 120]),
        (-1, (DROP,), [(1, "drop")], [120, 128, 116, 120]),
        (-1, (CLEAN,), [(1, "clean")], [120, 128, 136, 144]),
        (-1, (PAUSE, DROP, PAUSE), [(1, "drop")], [120, 128, 116, 120]),
        # From the first throw on: half a step down from 128, and a quarter of one up.
        (0, (DROP,), [(2, "drop")], [120, 128, 124, 126]),
        (7, (DROP,), [(2, "drop")], [120, 128, 124, 126]),
        # A set without a throw does not count, and no mark is for it.
        (-1, (NEXT, DROP), [(1, "drop")], [120, 128, 128, 116]),
        (-1, (DROP, NEXT), [(1, "drop")], [120, 128, 112, 116]),
        (-1, (AGAIN, DROP), [(1, "drop")], [120, 128, 128, 116, 120]),
        # What was thrown before "again" has the mark; what is thrown to its end counts.
        (3, (AGAIN, DROP), [(2, "drop")], [120, 128, 128, 136, 144]),
        (-1, (BACK, DROP), [(1, "drop")], [120, 128, 120, 128, 136, 144]),
    ],
)  # fmt: skip
def test_a_mark_is_for_what_was_thrown_last(
    beat: int | None,
    asked: tuple[str, ...],
    marks: list[tuple[int, str]],
    tempos: list[float],
) -> None:
    practice = PractisedSets(**ONE_STEP)
    practice.wait_for(Resting)
    practice.wait_for(Playing)
    if beat is not None:
        practice.wait_until_beat(beat)
    for each in asked:
        practice.controller.ask(each)
        if each in (CLEAN, DROP):
            ((number, mark),) = marks
            told = f"{mark.capitalize()} kept for set {number} of 4."
            assert practice.controller.answer == told
    practice.wait_for(Ended)
    assert practice.diary.marks == marks
    began = [line for line in practice.diary.lines if line.startswith("set at")]
    assert began == [f"set at {tempo:g}" for tempo in tempos]
    assert practice.controller.tally.drops == sum(mark == "drop" for _, mark in marks)


@pytest.mark.parametrize("beat", [None, -1])
@pytest.mark.parametrize("asked", [CLEAN, DROP])
def test_before_the_first_throw_no_mark_is_kept(beat: int | None, asked: str) -> None:
    practice = PractisedSets(**ONE_STEP)
    if beat is not None:
        practice.wait_until_beat(beat)
    practice.controller.ask(asked)
    assert practice.controller.answer == "Nothing has been thrown yet, so the mark is not kept."
    assert practice.diary.marks == []
    assert (practice.controller.tally.clean, practice.controller.tally.drops) == (0, 0)
    practice.wait_for(Resting)
    practice.wait_for(Playing)
    assert practice.controller.tempo == 128


def test_the_log_keeps_a_mark_in_the_ready_time_with_the_set_before(tmp_path: Path) -> None:
    with PracticeLog.open(tmp_path / "log.sqlite") as log:
        practice = PractisedSets(**ONE_STEP, recorder=LogRecorder(log, "", "", pytest.fail))
        practice.controller.ask(CLEAN)  # before anything is thrown
        practice.wait_for(Resting)
        practice.wait_for(Playing)
        practice.controller.ask(DROP)
        practice.wait_for(Ended)
        kept = sorted(log.history.sets(), key=lambda each: each.number)
    assert [each.outcome for each in kept] == ["drop", "clean", "clean", "clean"]
    assert [[(mark.mark, mark.beat) for mark in each.marks] for each in kept] == [
        [("drop", None)], [], [], [],
    ]  # fmt: skip


def test_the_tempo_told_at_the_end_knows_a_mark_in_the_ready_time() -> None:
    practice = PractisedSets(**ONE_STEP)
    practice.wait_for(Resting)
    practice.wait_for(Playing)
    practice.controller.ask(DROP)
    assert practice.controller.tempo == 128  # as announced
    practice.controller.ask(STOP)
    assert "The next set would be at 112 beats a minute." in practice_summary(practice.controller)


def test_pause_and_go_on() -> None:
    practice = PractisedSets()
    practice.wait_until_beat(4)
    practice.controller.ask(PAUSE)
    paused = practice.controller.situation
    assert isinstance(paused, Paused)
    assert isinstance(practice.deck.sent[-1], Silence)
    practice.wait(lambda: practice.deck.now > 100)
    assert practice.controller.situation is paused
    practice.controller.ask(PAUSE)
    going_on = practice.last(Play).scheduled
    # The cycle that was cut begins again, with the hand that began it, after a count-in.
    assert going_on.run.parts[0].beats == 12 - 3
    assert (going_on.run.first, going_on.run.count_in) == ("left", 4)
    assert going_on.time_at(-4) == going_on.start + AGAIN_READY
    practice.wait_for(Resting)
    assert practice.diary.lines == ["set at 120", "finished after 12"]
    assert practice.diary.thrown[-1].seconds == pytest.approx(6)


def test_pausing_before_the_first_throw_loses_nothing() -> None:
    practice = PractisedSets()
    practice.controller.ask(PAUSE)
    practice.wait(lambda: practice.deck.now > 100)
    practice.controller.ask(PAUSE)
    practice.wait_for(Resting)
    assert practice.diary.lines == ["set at 120", "finished after 12"]


def test_a_changing_tempo_goes_on_where_it_was() -> None:
    practice = PractisedSets(to=240)
    practice.wait_until_beat(7)
    practice.controller.ask(PAUSE)
    practice.controller.ask(PAUSE)
    run = practice.last(Play).scheduled.run
    assert run.tempo.start == pytest.approx(180)
    assert run.tempo.end == 240


def test_pausing_a_rest() -> None:
    practice = PractisedSets()
    practice.wait_for(Resting)
    practice.wait(lambda: practice.controller.situation.until - practice.deck.now < 12)
    practice.controller.ask(PAUSE)
    practice.wait(lambda: practice.deck.now > 100)
    practice.controller.ask(PAUSE)
    situation = practice.controller.situation
    assert isinstance(situation, Resting)
    assert situation.until - practice.deck.now == pytest.approx(12 + SOON, abs=2 * TICK)


def test_again_next_and_back() -> None:
    practice = PractisedSets(raise_by=10.0)
    practice.wait_until_beat(4)
    practice.controller.ask(AGAIN)
    assert practice.controller.situation.scheduled.run.ready == AGAIN_READY
    practice.controller.ask(NEXT)
    practice.controller.ask(NEXT)
    practice.controller.ask(BACK)
    practice.wait_for(Resting)
    practice.controller.ask(BACK)
    practice.controller.ask(BACK)
    practice.controller.ask(BACK)
    assert practice.diary.lines == [
        "set at 120", "stopped after 5",  # again
        "set at 120", "stopped after 0",  # next
        "set at 130", "stopped after 0",  # next
        "set at 140", "stopped after 0",  # back
        "set at 130", "finished after 12",  # back, from the rest
        "set at 130", "stopped after 0",  # back
        "set at 120", "stopped after 0",  # back: there is none before
        "set at 120",
    ]  # fmt: skip


def test_next_after_the_last_set_ends() -> None:
    practice = PractisedSets(sets=1)
    practice.controller.ask(NEXT)
    assert isinstance(practice.controller.situation, Ended)
    assert isinstance(practice.deck.sent[-1], End)


def test_a_set_that_was_left_does_not_count_without_a_mark() -> None:
    practice = PractisedSets(Rule(clean_sets=1), unmarked="clean")
    practice.controller.ask(NEXT)
    assert practice.controller.tempo == 120


def test_faster_and_slower_keep_the_beat() -> None:
    practice = PractisedSets()
    practice.wait_until_beat(3)
    before = practice.controller.situation.scheduled
    practice.controller.ask(FASTER)
    changed = practice.last(Continue)
    assert changed.scheduled.run.tempo.end == 124
    assert changed.scheduled.time_at(changed.pivot) == before.time_at(changed.pivot)
    assert changed.scheduled.time_at(changed.pivot + 1) == pytest.approx(
        before.time_at(changed.pivot) + 60 / 124
    )
    practice.controller.ask(SLOWER)
    practice.controller.ask(SLOWER)
    practice.wait_for(Resting)
    practice.controller.ask(SLOWER)
    practice.wait_for(Playing)
    assert practice.controller.situation.scheduled.run.tempo.start == 112


def test_a_ceiling_ends_a_change_to_a_slower_tempo() -> None:
    # A 5 stays under 4 m with the hands at 1 m from 140.6 beats a minute on.
    practice = PractisedSets(tempo=146, ceiling=4.0, beats=30)
    answers = [(142, ""), (141, "No slower: the ceiling is at 4 m."), (141, "No slower")]
    for beat, (tempo, told) in zip((3, 9, 15), answers, strict=True):
        practice.wait_until_beat(beat)
        practice.controller.ask(SLOWER)
        assert practice.controller.situation.scheduled.run.tempo.end == tempo
        assert practice.controller.answer.startswith(told)
        assert bool(practice.controller.answer) == bool(told)
    practice.wait_for(Resting)
    practice.controller.ask(SLOWER)
    practice.wait_for(Playing)
    assert practice.controller.situation.scheduled.run.tempo.start == 141
    practice.controller.ask(SLOWER)
    practice.controller.ask(SLOWER)  # before the first has come into force
    assert practice.controller.tempo == 141
    practice.controller.ask(FASTER)
    assert (practice.controller.tempo, practice.controller.answer) == (145, "")


def test_a_tempo_that_was_given_stays_under_a_ceiling_that_is_too_low() -> None:
    practice = PractisedSets(ceiling=2.0)
    practice.controller.ask(SLOWER)
    assert practice.controller.tempo == 120
    practice.controller.ask(FASTER)
    assert practice.controller.tempo == 124
    assert "The 5 rises" in practice.controller.answer
    assert "the ceiling is at 2 m: 244 beats" in practice.controller.answer


def test_a_change_is_answered_where_hands_are_too_slow_for_it() -> None:
    practice = PractisedSets(tempo=358)
    practice.controller.ask(FASTER)
    assert practice.controller.tempo == 362
    assert "360 would do" in practice.controller.answer


def test_a_set_that_is_too_quick_is_told_when_it_begins() -> None:
    practice = PractisedSets(
        tempo=356, sets=None, staircase=True, unmarked="clean", clean_sets=1, beats=3
    )
    assert practice.controller.answer == ""
    practice.wait_for(Resting)
    practice.wait_for(Playing)
    assert practice.controller.tempo == 364
    assert practice.controller.answer.startswith("At 364 beats a minute")
    practice.wait_until_beat(0)
    practice.controller.ask(DROP)
    practice.wait_for(Resting)
    practice.wait_for(Playing)
    assert (practice.controller.tempo, practice.controller.answer) == (360, "")


def test_a_staircase_stays_under_the_ceiling() -> None:
    practice = PractisedSets(
        tempo=146, ceiling=4.0, sets=None, staircase=True, unmarked="drop", beats=3
    )
    tempos = []
    for _ in range(3):
        practice.wait_for(Playing)
        tempos.append(practice.controller.tempo)
        practice.wait_for(Resting)
    assert tempos == [146, 141, 141]


def test_the_voice_goes_off_and_on() -> None:
    practice = PractisedSets()
    practice.controller.ask(VOICE)
    assert practice.last(SpeakUp) == SpeakUp(on=False)
    practice.controller.ask(VOICE)
    assert practice.last(SpeakUp) == SpeakUp(on=True)


@pytest.mark.parametrize("waits", [Playing, Resting, Paused])
def test_stop_at_any_time(waits: type) -> None:
    practice = PractisedSets()
    if waits is Paused:
        practice.controller.ask(PAUSE)
    practice.wait_for(waits)
    practice.controller.ask(STOP)
    assert isinstance(practice.controller.situation, Ended)
    assert isinstance(practice.deck.sent[-1], End)
    sent = len(practice.deck.sent)
    for control in (PAUSE, AGAIN, NEXT, BACK, FASTER, STOP):
        practice.controller.ask(control)
    assert len(practice.deck.sent) == sent


def test_a_new_device_begins_the_set_again() -> None:
    practice = PractisedSets()
    practice.wait_until_beat(7)
    practice.controller.ask(VOICE)
    practice.deck.now = 0.0
    practice.deck.sent.clear()
    practice.controller.start_over()
    assert [type(command) for command in practice.deck.sent] == [SpeakUp, Silence, Play]
    assert practice.controller.situation.scheduled.run.ready == AGAIN_READY
    practice.wait_for(Ended)
    assert practice.diary.lines.count("finished after 12") == 3


def test_a_new_device_in_a_rest_begins_the_rest_again_and_keeps_its_marks() -> None:
    practice = PractisedSets(Rule(clean_sets=1))
    practice.wait_for(Resting)
    practice.controller.ask(DROP)
    practice.deck.now = 0.0
    practice.controller.start_over()
    practice.wait_for(Playing)
    assert 20 <= practice.deck.now < 20 + SOON + 2 * TICK
    assert practice.controller.tempo == 112
    assert practice.diary.lines == ["set at 120", "finished after 12", "drop on None", "set at 112"]


def test_a_new_device_leaves_a_pause_as_it_is() -> None:
    practice = PractisedSets()
    practice.wait_until_beat(4)
    practice.controller.ask(PAUSE)
    practice.deck.now = 0.0
    practice.controller.start_over()
    practice.controller.ask(PAUSE)
    practice.wait_for(Resting)
    assert practice.diary.lines == ["set at 120", "finished after 12"]


def test_an_endless_set_notes_how_far_it_has_come() -> None:
    practice = PractisedSets(beats=None)
    practice.wait(lambda: practice.deck.now > 40)
    noted = [thrown.beats for thrown in practice.diary.thrown]
    assert len(noted) == 7
    assert all(9 <= later - earlier <= 11 for earlier, later in pairwise(noted[2:]))
    practice.controller.ask(STOP)
    assert practice.diary.lines[-1].startswith("stopped after")


def test_a_drop_that_was_heard_counts_until_it_is_taken_back() -> None:
    practice = PractisedSets(Rule(largest_step=8, clean_sets=1))
    practice.wait_until_beat(6)
    practice.controller.hear_drop()
    practice.wait_for(Resting)
    practice.wait_for(Playing)
    assert practice.controller.tempo == 112
    practice.wait_until_beat(6)
    practice.controller.hear_drop()
    practice.controller.ask(CLEAN)
    practice.wait_for(Resting)
    practice.wait_for(Playing)
    assert practice.controller.tempo > 112
    marks = [line for line in practice.diary.lines if " on " in line]
    assert marks == ["drop heard on 6", "drop heard on 6", "clean on 6"]
    told = " ".join(practice_summary(practice.controller))
    assert "1 clean, 1 dropped, 1 of them heard" in told
    assert "1 drop heard, and taken back" in told
