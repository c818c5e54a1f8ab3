"""Attempts until the drop: catches, bests, goals, the one pedal, and going on by a press."""

import click
import pytest
from practised_sets import PractisedSets
from pretend_deck import SOON

from throwcount.caller.options.request import Request
from throwcount.caller.practice.attempt_controller import attempt_request, beats_of
from throwcount.caller.practice.sessions import practice_summary
from throwcount.caller.practice.situation import Closing, Ended, Paused, Playing, Resting
from throwcount.caller.terminal.controls import BACK, CLEAN, DROP, GO, PAUSE, PEDAL, TWICE, Control
from throwcount.engine.patterns.rules import read
from throwcount.engine.takes.catches import expected_catches
from throwcount.sounds.output.commands import Play, Reply, Say, Silence

REACTION = 0.3
"""Seconds from a drop to the press."""

ATTEMPTS = {"sets": None, "beats": None, "rest": None, "attempts": 3}


def dropped_on(practice: PractisedSets, beat: int, control: Control = DROP) -> int:
    """Mark a drop on a beat; return the catches that the timeline has until the drop."""
    practice.wait_for(Playing)
    situation = practice.controller.situation
    assert isinstance(situation, Playing)
    practice.wait_until_beat(beat)
    until = practice.deck.now - situation.scheduled.start - REACTION
    timeline = situation.scheduled.timeline(practice.voice)
    catches = 0
    for catch in expected_catches(each for each in timeline if each.cycle is not None):
        if catch.time > until:
            break
        catches += 1
    practice.controller.ask(control)
    return catches


def test_attempts_tell_their_catches_and_whether_they_are_a_best() -> None:
    practice = PractisedSets(**ATTEMPTS, best=20)
    runs, places = [], []
    for beat in (9, 40, 26):
        practice.wait_for(Playing)
        places.append(practice.controller.place)
        runs.append(dropped_on(practice, beat))
    assert practice.controller.answer.endswith(f" {runs[-1]} catches.")
    practice.wait_for(Ended)
    assert places == ["attempt 1 of 3", "attempt 2 of 3", "attempt 3 of 3"]
    assert runs[0] < 20 < runs[2] < runs[1]
    assert practice.controller.runs == runs
    assert [thrown.catches for thrown in practice.diary.ended] == runs
    announced = [command.scheduled.run.announcement for command in practice.all(Play)]
    assert announced[0].startswith("attempt one of three, five three one, tempo one hundred")
    assert announced[1:] == ["attempt two of three", "attempt three of three"]
    assert practice.said() == [
        "six catches", "rest", "thirty eight catches, personal best", "rest",
        "twenty four catches", "best, thirty eight catches",
    ]  # fmt: skip
    told = " ".join(practice_summary(practice.controller))
    assert f"Catches: {runs[0]}, {runs[1]}, {runs[2]}. Best: {runs[1]}." in told


def test_a_best_run_of_one_catch_is_told_as_one() -> None:
    practice = PractisedSets(**{**ATTEMPTS, "attempts": 2}, tempo=100)
    for _ in range(2):
        practice.wait_for(Playing)
        assert dropped_on(practice, 3) == 1
    practice.wait_for(Ended)
    assert practice.said()[-1] == "best, one catch"


def test_a_drop_silences_at_once_is_answered_and_goes_again_after_the_rest() -> None:
    practice = PractisedSets(**ATTEMPTS)
    dropped_on(practice, 9)
    silence, answer, said, _rest = practice.deck.sent[-4:]
    assert (silence, answer) == (Silence(), Reply("drop"))
    assert isinstance(said, Say)
    assert said.start == practice.deck.now + SOON
    situation = practice.controller.situation
    assert isinstance(situation, Resting)
    practice.wait_for(Playing)
    assert practice.controller.number == 1


def test_a_heard_drop_counts_the_catches_before_the_one_that_failed() -> None:
    practice = PractisedSets(**ATTEMPTS)
    practice.wait_until_beat(12)
    situation = practice.controller.situation
    assert isinstance(situation, Playing)
    catches = [
        catch.time + situation.scheduled.start
        for catch, _ in zip(
            expected_catches(
                each
                for each in situation.scheduled.timeline(practice.voice)
                if each.cycle is not None
            ),
            range(10),
            strict=False,
        )
    ]
    practice.controller.hear_drop(catches[6])
    assert practice.controller.runs == [6]


def test_an_open_ended_practice_is_one_of_attempts_and_ends_when_asked() -> None:
    practice = PractisedSets(**{**ATTEMPTS, "attempts": None})
    assert practice.controller.place == ""
    dropped_on(practice, 9)
    practice.wait_for(Playing)
    assert practice.controller.place == "attempt 2"
    practice.wait_until_beat(30)
    practice.controller.stop()
    assert isinstance(practice.controller.situation, Ended)
    assert len(practice.controller.runs) == 2


def test_a_planned_length_that_is_thrown_whole_ends_an_open_ended_practice() -> None:
    practice = PractisedSets(**{**ATTEMPTS, "attempts": None, "beats": 12})
    dropped_on(practice, 9)
    practice.wait_for(Ended)
    assert practice.controller.runs[1:] == [12]


@pytest.mark.parametrize(
    ("text", "catches", "beats"),
    [
        ("3", 3, 3), ("531", 3, 3), ("531", 6, 6), ("42", 3, 5), ("50505", 3, 5), ("97531", 5, 5),
        ("(4,4)", 4, 4), ("(4,4)", 3, 4), ("[33]33", 4, 3), ("(2,4)", 2, 4),
    ],
)  # fmt: skip
def test_a_named_goal_gives_the_beats_that_make_its_catches(
    text: str, catches: int, beats: int
) -> None:
    assert beats_of(read(text), catches) == beats


@pytest.mark.parametrize(
    ("goal", "length"),
    [("flash", 3), ("qualify", 6), (9, None)],
)
def test_goals(goal: str | int, length: int | None) -> None:
    practice = PractisedSets(**ATTEMPTS, goal=goal)
    practice.wait_for(Playing)
    run = practice.last(Play).scheduled.run
    assert run.closing.beats == length
    if length is None:
        assert run.goal == goal
        dropped_on(practice, 18)
    else:
        practice.wait_for(Resting)
        assert practice.diary.lines[-1] == f"finished after {length}"
    assert practice.controller.met == 1


def test_attempts_end_when_the_goal_was_met_so_often() -> None:
    practice = PractisedSets(**{**ATTEMPTS, "attempts": 9}, goal=8, goal_times=2)
    for beat in (18, 5, 18):
        dropped_on(practice, beat)
    assert isinstance(practice.controller.situation, Closing)
    assert practice.controller.met == 2


def test_a_clean_mark_ends_an_attempt_of_which_all_is_collected() -> None:
    practice = PractisedSets(**ATTEMPTS)
    dropped_on(practice, 18, CLEAN)
    assert isinstance(practice.controller.situation, Resting)
    assert practice.diary.marks == [(1, "clean")]
    assert Reply("clean") in practice.deck.sent


@pytest.mark.parametrize("wait", [False, True])
def test_one_pedal_does_it_all(wait: bool) -> None:
    practice = PractisedSets(**ATTEMPTS, wait=wait)
    if wait:
        practice.wait(lambda: practice.deck.now > 1000, limit=1001.0)
        practice.controller.ask(PEDAL)
    dropped_on(practice, 18, PEDAL)
    assert practice.diary.marks == [(1, "drop")]
    practice.controller.ask(TWICE)
    assert practice.controller.tally.clean == 1
    assert practice.controller.tally.drops == 0
    before = practice.deck.now
    practice.controller.ask(PEDAL)
    practice.wait_for(Playing)
    assert practice.deck.now < before + 1
    assert Reply("go") in practice.deck.sent
    # In a rest, the first of two presses does not go on.
    dropped_on(practice, 18, PEDAL)
    practice.controller.ask(PEDAL)
    practice.controller.ask(TWICE)
    practice.controller.step()
    assert isinstance(practice.controller.situation, Resting)
    assert practice.diary.marks == [(1, "drop"), (1, "clean"), (2, "drop"), (2, "clean")]


def test_two_pedals_mean_the_same_everywhere() -> None:
    practice = PractisedSets(**{**ATTEMPTS, "attempts": None, "sets": 3, "beats": 12})
    practice.wait_until_beat(6)
    practice.controller.ask(GO)
    assert practice.diary.marks == [(1, "clean")]
    assert isinstance(practice.controller.situation, Playing)
    practice.wait_for(Resting)
    practice.controller.ask(DROP)  # not clean after all
    assert practice.diary.marks == [(1, "clean"), (1, "drop")]
    practice.controller.ask(GO)
    assert isinstance(practice.controller.situation, Playing)
    assert practice.diary.marks[2:] == []


def test_a_practice_that_waits_begins_and_goes_on_by_a_press() -> None:
    practice = PractisedSets(wait=True)
    for _ in range(2):
        assert isinstance(practice.controller.situation, Resting)
        practice.wait(lambda: practice.deck.now % 500 < 1, limit=501.0)
        practice.controller.ask(GO)
        practice.wait_for(Resting)
    assert practice.said() == ["rest", "rest"]


def test_going_on_is_heard_although_the_rest_falls_silent() -> None:
    """The tones come after the silence: a silence after them would silence them, too."""
    practice = PractisedSets(**ATTEMPTS)
    dropped_on(practice, 9)
    practice.controller.ask(GO)
    sent = practice.deck.sent
    assert not any(isinstance(each, Silence) for each in sent[sent.index(Reply("go")) :])


def test_a_mark_still_counts_while_the_last_words_are_said() -> None:
    practice = PractisedSets(**{**ATTEMPTS, "attempts": 1})
    dropped_on(practice, 9, PEDAL)
    assert isinstance(practice.controller.situation, Closing)
    practice.controller.ask(PEDAL)  # means nothing at the end
    practice.controller.ask(TWICE)
    assert (practice.controller.tally.clean, practice.controller.tally.drops) == (1, 0)


def test_a_goal_that_is_to_be_met_often_goes_on_without_a_number_of_attempts() -> None:
    practice = PractisedSets(**{**ATTEMPTS, "attempts": None}, goal="flash", goal_times=2)
    practice.wait_for(Resting)
    practice.wait_for(Playing)
    practice.wait_for(Ended)
    assert practice.controller.met == 2


@pytest.mark.parametrize("times", [1, 2])
def test_a_drop_marked_after_a_whole_attempt_takes_its_catches_out(times: int) -> None:
    """In the rest, or while the last words are said; another attempt makes up for it."""
    asked = {**ATTEMPTS, "attempts": 9}
    practice = PractisedSets(**asked, goal="flash", goal_times=times, best=2)
    practice.wait_for(Resting if times > 1 else Closing)
    assert practice.controller.runs == [3]
    for _ in range(2):
        practice.controller.ask(DROP)
        answer = practice.controller.answer
        assert answer.startswith("Drop kept for attempt 1 of 9. It was told after the end, so the")
        assert (practice.controller.runs, practice.controller.met) == ([], 0)
        assert isinstance(practice.controller.situation, Resting)
    practice.wait_for(Playing)
    practice.wait_for(Ended)
    assert practice.controller.runs == [3] * times
    assert practice.controller.tally.drops == 2


@pytest.mark.parametrize("paused", [False, True])
def test_such_a_drop_that_was_heard_is_taken_back(paused: bool) -> None:
    practice = PractisedSets(**{**ATTEMPTS, "attempts": 9}, goal="flash", goal_times=1)
    practice.wait_for(Closing)
    practice.controller.hear_drop(practice.deck.now)
    assert practice.controller.runs == []
    if paused:
        practice.controller.ask(PAUSE)
    practice.controller.ask(CLEAN)
    assert isinstance(practice.controller.situation, Closing)
    assert practice.controller.runs == [3]
    practice.wait_for(Ended)
    assert len(practice.all(Play)) == 1


def test_the_last_words_tell_no_best_that_no_longer_counts() -> None:
    practice = PractisedSets(**ATTEMPTS, goal="qualify", tempo=100)
    for _ in range(2):
        assert dropped_on(practice, 3) == 1
    practice.wait_for(Closing)
    assert practice.said()[-1] == "best, six catches"
    practice.controller.ask(CLEAN)  # changes nothing, so the words go on
    sent = [*practice.deck.sent]
    assert sent[-1] == Reply("clean")
    practice.controller.ask(DROP)
    added = practice.deck.sent[len(sent) :]
    assert added[-3:-1] == [Silence(), Reply("drop")]
    assert practice.said()[-1] == "best, one catch"
    practice.wait_for(Ended)
    assert practice.controller.tally.drops == 3


def test_an_attempt_that_is_thrown_again_counts_once() -> None:
    """As in the log of a session file: from the rest after it, and from amid the next."""
    practice = PractisedSets(**ATTEMPTS, goal=8)
    dropped_on(practice, 18)
    practice.controller.ask(BACK)
    assert practice.controller.met == 1
    first = dropped_on(practice, 9)
    assert (practice.controller.runs, practice.controller.met) == ([first], 0)
    practice.wait_for(Playing)
    practice.wait_until_beat(30)
    practice.controller.ask(BACK)
    assert practice.controller.runs[0] == first
    assert practice.controller.place == "attempt 1 of 3"
    again = dropped_on(practice, 18)
    assert practice.controller.runs == [again]


def test_a_goal_needs_catches() -> None:
    with pytest.raises(click.UsageError, match="in 2 nothing is caught"):
        attempt_request(read("2"), Request(goal="flash"))


def test_what_goes_on_after_a_drop_counts_to_the_drop() -> None:
    practice = PractisedSets(**{**ATTEMPTS, "attempts": 2, "beats": 30}, on_drop="go-on", best=20)
    catches = dropped_on(practice, 9)
    practice.wait_for(Resting)
    assert practice.controller.runs == [catches]
    assert practice.diary.ended[0].catches == catches
    assert practice.said()[0] == "six catches"


def test_a_best_is_one_against_all_runs_of_this_practice() -> None:
    practice = PractisedSets(sets=3, beats=60, best=20)
    practice.wait_for(Resting)
    dropped_on(practice, 40)
    assert not any("personal best" in text for text in practice.said())


def test_a_drop_in_a_pause_ends_the_attempt() -> None:
    practice = PractisedSets(**ATTEMPTS)
    practice.wait_until_beat(12)
    practice.controller.ask(PAUSE)
    practice.controller.ask(DROP)
    assert isinstance(practice.controller.situation, Resting)


def test_a_sound_that_is_lost_in_a_pause_leaves_whole_sets_in_the_log() -> None:
    practice = PractisedSets(**ATTEMPTS)
    practice.wait_until_beat(12)
    practice.controller.ask(PAUSE)
    practice.controller.keep()
    practice.deck.now = 0.0
    practice.controller.start_over()
    assert isinstance(practice.controller.situation, Paused)
    practice.controller.ask(PAUSE)
    catches = dropped_on(practice, 18)
    assert practice.diary.ended[-1].catches == practice.controller.runs[-1] == catches


def test_one_pedal_goes_on_from_a_rest_that_is_paused() -> None:
    practice = PractisedSets(**ATTEMPTS)
    dropped_on(practice, 9)
    practice.controller.ask(PAUSE)
    practice.controller.ask(PEDAL)
    practice.wait_for(Playing)
