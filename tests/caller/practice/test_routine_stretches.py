"""Parts of a routine repeated until they were clean, and what is kept of each part."""

from collections.abc import Sequence

import pytest
from rehearsal import Rehearsal, cue_voice

from throwcount.caller.practice.sessions import routine_summary
from throwcount.caller.practice.situation import Ended, Playing, Resting
from throwcount.caller.terminal.controls import AGAIN, CLEAN, DROP, NEXT, PAUSE
from throwcount.sounds.output.commands import Reply, Say, Silence
from throwcount.sounds.voices.voice import CueVoice

REST = 5.0


@pytest.fixture(scope="module")
def voice() -> CueVoice:
    return cue_voice()


def looped(voice: CueVoice, times: int = 2, **changes: object) -> Rehearsal:
    """Return the first two parts, of 12 beats each, until they were clean."""
    usual = {"until_clean": times, "rest": REST}
    return Rehearsal(voice, stretch=(None, 2), **usual | changes)


def go_through(rehearsal: Rehearsal, time: str) -> None:
    """Go through the parts once; `time` says what is pressed, and where.

    d and c are a drop and a clean mark in the second part, D and C in the rest after it.
    """
    rehearsal.wait(lambda: isinstance(rehearsal.controller.situation, Playing))
    for key, control in (("d", DROP), ("c", CLEAN)):
        if key in time:
            rehearsal.wait_until_beat(15)
            rehearsal.controller.ask(control)
    rehearsal.wait(lambda: isinstance(rehearsal.controller.situation, Resting | Ended))
    for key, control in (("D", DROP), ("C", CLEAN)):
        if key in time:
            rehearsal.controller.ask(control)


@pytest.mark.parametrize(
    ("unmarked", "times", "rows"),
    [
        (None, ("c", "c"), (1, 2)),
        (None, ("C", "C"), (1, 2)),
        (None, ("c", "", "c"), (1, 1, 2)),  # one that does not count leaves the row as it is
        (None, ("c", "d", "c", "c"), (1, 0, 1, 2)),
        (None, ("c", "D", "c", "C"), (1, 0, 1, 2)),
        (None, ("cD", "c", "c"), (0, 1, 2)),
        ("clean", ("", ""), (1, 2)),
        ("clean", ("", "d", "", "D", "", ""), (1, 0, 1, 0, 1, 2)),
        ("drop", ("c", "", "c", "c"), (1, 0, 1, 2)),
    ],
)
def test_it_is_repeated_until_so_many_times_in_a_row_were_clean(
    unmarked: str | None, times: Sequence[str], rows: Sequence[int], voice: CueVoice
) -> None:
    rehearsal = looped(voice, unmarked=unmarked)
    controller = rehearsal.controller
    for number, (time, row) in enumerate(zip(times, rows, strict=True), 1):
        go_through(rehearsal, time)
        assert controller.clean_row == row
        assert controller.progress == f"{row} of 2 clean in a row."
        assert len(rehearsal.played()) == number
    # Where nothing is pressed, there is still time for a drop.
    assert isinstance(controller.situation, Resting if times[-1] == "" else Ended)
    rehearsal.wait(lambda: isinstance(controller.situation, Ended))
    assert len(rehearsal.played()) == len(times)


def test_a_drop_ends_the_time_and_all_is_silent(voice: CueVoice) -> None:
    rehearsal = looped(voice)
    rehearsal.wait_until_beat(15)
    rehearsal.controller.ask(DROP)
    # Only the reply to the press, and the word for the rest, come after the silence.
    after = rehearsal.deck.sent[rehearsal.deck.sent.index(Silence()) + 1 :]
    assert [type(command) for command in after] == [Reply, Say]
    assert (
        rehearsal.controller.answer == "Drop kept for part 2 of 4, time 1. 0 of 2 clean in a row."
    )
    begun = rehearsal.deck.now
    rehearsal.wait(lambda: isinstance(rehearsal.controller.situation, Playing))
    assert rehearsal.deck.now == pytest.approx(begun + REST, abs=0.5)
    assert rehearsal.played()[-1].scheduled.run.opening.title == "3"
    assert rehearsal.controller.place == "part 1 of 4, time 2"


def test_a_drop_in_the_ready_time_is_for_the_time_before_and_stops_nothing(voice: CueVoice) -> None:
    rehearsal = looped(voice, unmarked="clean")
    go_through(rehearsal, "")
    rehearsal.wait(lambda: isinstance(rehearsal.controller.situation, Playing))
    rehearsal.controller.ask(DROP)
    assert isinstance(rehearsal.controller.situation, Playing)
    assert rehearsal.controller.clean_row == 0
    rehearsal.wait_until_beat(3)
    assert rehearsal.controller.clean_row == 0


@pytest.mark.parametrize("asked", [(AGAIN,), (NEXT,), (PAUSE, PAUSE)])
def test_a_time_that_is_cut_does_not_count(asked: Sequence[str], voice: CueVoice) -> None:
    rehearsal = looped(voice, unmarked="clean")
    rehearsal.wait_until_beat(15)
    for each in asked:
        rehearsal.controller.ask(each)
    rehearsal.wait(lambda: isinstance(rehearsal.controller.situation, Playing))
    assert rehearsal.played()[-1].scheduled.run.opening.title == "3"
    rehearsal.wait_until_beat(3)
    assert rehearsal.controller.clean_row == 0


@pytest.mark.parametrize(
    ("changes", "stops", "played"),
    [
        ({"until_clean": 2}, True, ["3", "3"]),
        ({"until_clean": 2, "on_drop": "go-on"}, False, ["3", "3"]),
        # From the part that was dropped.
        ({"sets": 2, "on_drop": "stop"}, True, ["3", "the well", "3"]),
        ({"sets": 2}, False, ["3", "3"]),
        ({}, False, ["3"]),
    ],
)
def test_what_is_played_after_a_drop(
    changes: dict[str, object], stops: bool, played: list[str], voice: CueVoice
) -> None:
    rehearsal = Rehearsal(voice, stretch=(None, 2), rest=REST, **changes)
    rehearsal.wait_until_beat(15)
    rehearsal.controller.ask(DROP)
    assert isinstance(rehearsal.controller.situation, Resting) == stops
    rehearsal.wait(
        lambda: (
            isinstance(rehearsal.controller.situation, Ended)
            or len(rehearsal.played()) == len(played)
        )
    )
    assert [each.scheduled.run.opening.title for each in rehearsal.played()] == played


def test_the_times_may_be_limited(voice: CueVoice) -> None:
    rehearsal = looped(voice, times=9, sets=2)
    rehearsal.wait(lambda: isinstance(rehearsal.controller.situation, Ended))
    assert len(rehearsal.played()) == 2
    assert list(routine_summary(rehearsal.controller))[-1] == "0 of 9 clean in a row."


def test_each_part_is_kept_with_its_title_the_one_before_it_and_its_catches(
    voice: CueVoice,
) -> None:
    plans = []
    rehearsal = Rehearsal(voice, stretch=(2, None))
    rehearsal.diary.begin_set = plans.append
    rehearsal.wait_until_beat(5)
    rehearsal.controller.ask(DROP)
    rehearsal.wait(lambda: isinstance(rehearsal.controller.situation, Ended))
    assert [(plan.part, plan.after_part) for plan in plans] == [("the well", ""), ("4", "rest")]
    # Of the first six, what was caught before the drop; and all sixteen of the 4.
    ended = {thrown.beats: thrown.catches for thrown in rehearsal.diary.thrown}
    assert 0 < ended[12] < 6
    assert ended[16] == 16
