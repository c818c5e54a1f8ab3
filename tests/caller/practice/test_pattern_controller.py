"""A practice led through its sets and rests, on a deck whose clock the test moves."""

from itertools import pairwise

import pytest
from practised_sets import TICK, PractisedSets
from pretend_deck import SOON

from throwcount.caller.practice.sessions import practice_summary
from throwcount.caller.practice.situation import Ended, Paused, Playing, Resting, rest_calls
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
from throwcount.engine.practice.tempo_rules import Rule
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.sounds.output.commands import Continue, End, Play, Silence, SpeakUp

AGAIN_READY = 3.0
"""Seconds in which hands are filled again."""


def test_a_practice_leads_itself() -> None:
    practice = PractisedSets(raise_by=10.0)
    practice.wait_for(Ended)
    sets = [command.scheduled for command in practice.deck.sent if isinstance(command, Play)]
    assert [scheduled.run.tempo.start for scheduled in sets] == [120, 130, 140]
    assert [scheduled.run.announcement for scheduled in sets] == [
        f"set {number} of three, five three one, tempo one hundred {tempo}, right two, left one, "
        "right hand first"
        for number, tempo in (("one", "twenty"), ("two", "thirty"), ("three", "forty"))
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
    numbers = [f"set {number} of two, " if announced else "" for number in ("one", "two")]
    assert [scheduled.run.announcement for scheduled in sets] == [n + announced for n in numbers]
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
        tempo=348, sets=None, staircase=True, unmarked="clean", clean_sets=1, beats=3
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
    assert (practice.controller.tempo, practice.controller.answer) == (356, "")


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
    practice = PractisedSets(Rule(clean_sets=1, largest_step=8))
    practice.wait_for(Resting)
    practice.controller.ask(DROP)
    practice.deck.now = 0.0
    practice.controller.start_over()
    practice.wait_for(Playing)
    assert 20 <= practice.deck.now < 20 + SOON + 2 * TICK
    assert practice.controller.tempo == 112
    assert practice.diary.lines == ["set at 120", "finished after 12", "drop on None", "set at 112"]


def test_a_new_device_in_a_pause_begins_the_set_again_after_it() -> None:
    practice = PractisedSets()
    practice.wait_until_beat(4)
    practice.controller.ask(PAUSE)
    practice.controller.keep()
    practice.deck.now = 0.0
    practice.controller.start_over()
    assert isinstance(practice.controller.situation, Paused)
    practice.controller.ask(PAUSE)
    practice.wait_for(Resting)
    assert practice.diary.lines == [
        "set at 120", "stopped after 5", "set at 120", "finished after 12",
    ]  # fmt: skip


def test_an_endless_set_notes_how_far_it_has_come() -> None:
    practice = PractisedSets(sets=None, beats=None)
    practice.wait(lambda: practice.deck.now > 40)
    noted = [thrown.beats for thrown in practice.diary.thrown]
    assert len(noted) == 7
    assert all(9 <= later - earlier <= 11 for earlier, later in pairwise(noted[2:]))
    practice.controller.ask(STOP)
    assert practice.diary.lines[-1].startswith("stopped after")
