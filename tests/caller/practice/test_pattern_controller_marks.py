"""Marks of a practice of sets: which set each belongs to, and what follows from it."""

from pathlib import Path

import pytest
from practised_sets import PractisedSets

from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.session_writer import SessionWriter
from throwcount.caller.practice.recorder import LogRecorder
from throwcount.caller.practice.sessions import practice_summary
from throwcount.caller.practice.situation import Ended, Playing, Resting
from throwcount.caller.terminal.controls import (
    AGAIN,
    BACK,
    CLEAN,
    DROP,
    NEXT,
    PAUSE,
    STOP,
)
from throwcount.engine.practice.tempo_rules import Rule
from throwcount.sounds.output.commands import Reply

STEPS = Rule(clean_sets=1, largest_step=8, smallest_step=2)


def test_a_mark_in_the_rest_counts_for_the_set_before() -> None:
    practice = PractisedSets(STEPS)
    practice.wait_for(Resting)
    practice.controller.ask(DROP)
    practice.wait_for(Playing)
    assert practice.controller.tempo == 112
    assert practice.diary.lines == ["set at 120", "finished after 12", "drop on None", "set at 112"]


ONE_STEP = {"rule": STEPS, "sets": 4, "unmarked": "clean"}


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
            assert practice.controller.answer.startswith(told)
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
    log_file = tmp_path / "log.sqlite"
    with PracticeLog.open(log_file) as log:
        recorder = LogRecorder(SessionWriter(log_file), log.history, pytest.fail)
        practice = PractisedSets(**ONE_STEP, recorder=recorder)
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


def test_a_drop_that_was_heard_ends_the_set_and_counts_until_it_is_taken_back() -> None:
    practice = PractisedSets(Rule(largest_step=8, clean_sets=1))
    for taken_back in (False, True):
        practice.wait_until_beat(6)
        practice.controller.hear_drop(practice.deck.now - 1.0)
        assert isinstance(practice.controller.situation, Resting)
        if taken_back:
            practice.controller.ask(CLEAN)
        practice.wait_for(Playing)
        assert practice.controller.tempo == (116 if taken_back else 112)
    marks = [line for line in practice.diary.lines if " on " in line]
    assert marks == ["drop heard on 6", "drop heard on 6", "clean on None"]
    told = " ".join(practice_summary(practice.controller))
    assert "1 clean, 1 dropped, 1 of them heard" in told
    assert "1 drop taken back" in told


@pytest.mark.parametrize("on_drop", [None, "stop", "go-on"])
def test_a_drop_ends_the_set_unless_it_is_to_go_on(on_drop: str | None) -> None:
    practice = PractisedSets(on_drop=on_drop)
    practice.wait_until_beat(6)
    practice.controller.ask(DROP)
    goes_on = isinstance(practice.controller.situation, Playing)
    assert goes_on == (on_drop == "go-on")
    assert Reply("drop") in practice.deck.sent
    assert (practice.said() == []) == goes_on
    practice.wait_for(Resting)
    assert practice.diary.lines[-1] == ("finished after 12" if goes_on else "stopped after 7")
