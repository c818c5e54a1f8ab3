"""A session file led through block by block, resumed where it was, on a deck the test moves."""

import itertools
from collections.abc import Sequence
from pathlib import Path

import pytest
from handmade import RATE, ToneVoice
from practised_sets import TICK, WORD
from pretend_deck import Deck, Diary

from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import SetOfBlock
from throwcount.caller.log.session_writer import SessionWriter
from throwcount.caller.options.request import Request
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.recorder import LogRecorder, Recorder, SessionFacts
from throwcount.caller.practice.session_controller import (
    SessionController,
    is_finished,
    requests_of,
)
from throwcount.caller.practice.situation import Closing, Ended, Playing, Resting
from throwcount.caller.session_file.reading import read_session
from throwcount.caller.terminal.controls import (
    AGAIN,
    BACK,
    DROP,
    FASTER,
    NEXT,
    PAUSE,
    STOP,
    Control,
)
from throwcount.sounds.output.commands import End, Play, Say

TEXT = """
title = "Evening"
end = "well done"
unmarked = "clean"

[[block]]
pattern = "3"
before = "warm up"
beats = 6
tempo = 150
rest-after = 10

[[block]]
pattern = "531"
sets = 3
beats = 12
tempo = 120
staircase = true
clean-sets = 1
rest = 5

[[block]]
pattern = "5 cascade"
attempts = 3
goal = 8
goal-times = 2
rest = 4
"""
REST_AFTER = 30.0
"""Seconds after a block that says nothing."""


class Evening:
    """A session on a deck whose clock the test moves."""

    def __init__(
        self,
        folder: Path,
        reached: Sequence[SetOfBlock] = (),
        recorder: Recorder | None = None,
        text: str = TEXT,
        **changes: object,
    ) -> None:
        path = folder / "evening.toml"
        path.write_text(text, "utf-8")
        self.deck, self.diary = Deck(), Diary()
        session = LiveSession(self.deck, ToneVoice([round(WORD * RATE)]), recorder or self.diary)
        request = Request(ready=2.0, **changes)
        file = read_session(path)
        requests = requests_of(file, request)
        self.controller = SessionController(file, requests, session, reached)
        self.controller.begin()

    def wait(self, until: object, limit: float = 400.0) -> None:
        end = self.deck.now + limit
        while not until():
            self.deck.now += TICK
            assert self.deck.now < end, "it never came to that"
            self.controller.step()

    def wait_for(self, kind: type) -> None:
        self.wait(lambda: isinstance(self.controller.situation, kind))

    def wait_for_place(self, opening: str) -> None:
        self.wait(lambda: self.controller.place.startswith(opening))

    def wait_for_time(self, moment: float) -> None:
        self.wait(lambda: self.deck.now > moment)

    def wait_until_thrown(self, beats: int) -> None:
        self.wait_for(Playing)
        scheduled = self.controller.situation.scheduled
        self.wait(lambda: self.deck.now >= scheduled.time_at(beats))

    def press(self, control: Control, beats: int) -> None:
        self.wait_until_thrown(beats)
        self.controller.ask(control)

    @property
    def said(self) -> list[str]:
        return [command.text for command in self.deck.sent if isinstance(command, Say)]

    @property
    def played(self) -> list[tuple[str, float]]:
        runs = [command.scheduled.run for command in self.deck.sent if isinstance(command, Play)]
        return [(run.opening.pattern.text, run.tempo.start) for run in runs]


def recorder_of(log_file: Path, log: PracticeLog, *, resume: bool = False) -> LogRecorder:
    facts = SessionFacts(file="evening", resume=resume)
    return LogRecorder(SessionWriter(log_file), log.history, pytest.fail, facts)


def test_a_session_leads_itself(tmp_path: Path) -> None:
    evening = Evening(tmp_path)
    places = []
    for drop_on in (None, None, 7, None, 6, 20, 30):
        evening.wait_for(Playing)
        places.append(evening.controller.place)
        if drop_on is None:
            evening.wait(lambda: not isinstance(evening.controller.situation, Playing))
        else:
            evening.press(DROP, drop_on)
    evening.wait_for(Ended)
    assert places == [
        "block 1 of 3", "block 2 of 3, set 1 of 3", "block 2 of 3, set 2 of 3",
        "block 2 of 3, set 3 of 3", "block 3 of 3, attempt 1 of 3",
        "block 3 of 3, attempt 2 of 3", "block 3 of 3, attempt 3 of 3",
    ][: len(places)]  # fmt: skip
    assert evening.played[:4] == [("3", 150), ("531", 120), ("531", 136), ("531", 128)]
    assert {pattern for pattern, _ in evening.played[4:]} == {"5"}
    # 20 and 30 beats of five objects are more than eight catches: the goal was met twice.
    assert evening.controller.controllers[-1].met == 2
    assert evening.said[0] == "warm up"
    assert "rest" in evening.said
    assert evening.said[-1] == "well done"
    assert sum(isinstance(command, End) for command in evening.deck.sent) == 1
    assert (evening.controller.tally.clean, evening.controller.tally.drops) == (0, 4)


def test_between_two_blocks_there_is_the_rest_of_the_first(tmp_path: Path) -> None:
    evening = Evening(tmp_path)
    evening.wait_for(Playing)
    evening.wait_for_place("block 2")
    rest = evening.controller.situation
    assert isinstance(rest, Resting)
    assert rest.until - evening.deck.now == pytest.approx(10, abs=0.5)
    # What is wrong with a block is told as it comes: a 5 at 120 beats a minute is high.
    assert evening.controller.answer == " ".join(evening.controller.piece.warnings)
    assert "The 5 rises" in evening.controller.answer


def test_the_last_words_of_a_block_are_not_those_of_the_session(tmp_path: Path) -> None:
    evening = Evening(tmp_path)
    evening.wait_for(Closing)
    assert evening.controller.place == "block 2 of 3, set 3 of 3"
    assert not evening.controller.situation.last


def test_a_mark_in_the_rest_is_for_the_block_before(tmp_path: Path) -> None:
    log_file = tmp_path / "log.sqlite"
    with PracticeLog.open(log_file) as log:
        recorder = recorder_of(log_file, log)
        evening = Evening(tmp_path, recorder=recorder)
        evening.wait_for_place("block 2")
        evening.controller.ask(DROP)
        assert evening.controller.answer == "Drop kept for block 1 of 3."
        evening.wait_until_thrown(3)
        evening.controller.ask(STOP)
        first, second = sorted(log.history.sets(), key=lambda each: each.number)
    assert (first.outcome, second.outcome) == ("drop", None)
    assert isinstance(evening.deck.sent[-1], End)


def test_the_name_of_a_block_is_shown(tmp_path: Path) -> None:
    evening = Evening(tmp_path, text=TEXT.replace('pattern = "3"', 'pattern = "3"\nname = "calm"'))
    evening.wait_for(Playing)
    assert evening.controller.place == "block 1 of 3 (calm)"
    evening.wait_for_place("block 2 of 3, set 1")


@pytest.mark.parametrize("control", [PAUSE, NEXT])
def test_keys_go_to_the_block_that_is_thrown(tmp_path: Path, control: Control) -> None:
    evening = Evening(tmp_path)
    evening.press(control, 3)
    if control is PAUSE:
        evening.controller.ask(PAUSE)
    evening.wait_for_place("block 2")


def reached_after(*sets: tuple[int, str | None, bool, int | None]) -> list[SetOfBlock]:
    return [
        SetOfBlock(
            block, 120.0, outcome, True, whole, catches, finished=whole and outcome != "drop"
        )
        for block, outcome, whole, catches in sets
    ]


@pytest.mark.parametrize(
    ("sets", "place", "tempo"),
    [
        ([], "block 1 of 3", 150),
        ([(1, None, False, 3)], "block 1 of 3", 150),
        ([(1, "clean", True, 6)], "block 2 of 3, set 1 of 3", 120),
        ([(1, "clean", True, 6), (2, "clean", True, 12)], "block 2 of 3, set 2 of 3", 136),
        ([(2, "clean", True, 12), (2, None, False, 4)], "block 2 of 3, set 2 of 3", 136),
        ([(2, None, True, 9)] * 3, "block 3 of 3, attempt 1 of 3", None),
        ([(3, "drop", True, 5)], "block 3 of 3, attempt 2 of 3", None),
        ([(3, "drop", True, 9)] * 2, "block 1 of 3", 150),  # the goal was met twice
        ([(3, "drop", True, None)] * 2, "block 3 of 3, attempt 3 of 3", None),
        ([(3, "drop", True, 1)] * 3, "block 1 of 3", 150),
        ([(9, "drop", True, 1)], "block 1 of 3", 150),  # the file had more blocks
    ],
)
def test_a_session_goes_on_where_it_was(
    tmp_path: Path,
    sets: list[tuple[int, str | None, bool, int | None]],
    place: str,
    tempo: float | None,
) -> None:
    evening = Evening(tmp_path, reached_after(*sets))
    evening.wait_for(Playing)
    assert evening.controller.place == place
    assert tempo is None or evening.played[0][1] == tempo


def test_a_session_that_was_finished_is_not_gone_on_from(tmp_path: Path) -> None:
    path = tmp_path / "evening.toml"
    path.write_text(TEXT, "utf-8")
    blocks = requests_of(read_session(path), Request())
    done = reached_after((1, "clean", True, 6), (2, None, True, 9), (3, "drop", True, 9))
    assert not is_finished(blocks, [])
    assert not is_finished(blocks, done)
    assert is_finished(blocks, [*done, done[-1]])


def test_a_resumed_staircase_keeps_what_the_juggler_changed(tmp_path: Path) -> None:
    log_file = tmp_path / "log.sqlite"
    tempos = []
    for resume in (False, True, True):
        with PracticeLog.open(log_file) as log:
            recorder = recorder_of(log_file, log, resume=resume)
            evening = Evening(tmp_path, recorder.reached, recorder)
            evening.wait_for_place("block 2")
            evening.wait_until_thrown(1)
            tempos.append(evening.played[-1][1])
            if not resume:
                evening.controller.ask(FASTER)
            evening.wait_for(Resting)
            evening.controller.stop()
    # 4 more than 120 on the way; then up by 16, and by 16 again.
    assert tempos == [120, 140, 156]


def test_an_attempt_whose_catches_are_unknown_is_left_out_when_resumed(tmp_path: Path) -> None:
    log_file = tmp_path / "log.sqlite"
    text = '[[block]]\npattern = "3"\nattempts = 3\ngoal = "flash"\nrest = 9\n'
    for resume, runs in ((False, []), (True, [3])):
        with PracticeLog.open(log_file) as log:
            recorder = recorder_of(log_file, log, resume=resume)
            evening = Evening(tmp_path, recorder.reached, recorder, text)
            evening.wait_for(Playing)
            evening.wait_for(Resting)
            if not resume:
                evening.controller.ask(DROP)
            assert evening.controller.place == f"block 1 of 1, attempt {1 + resume} of 3"
            assert evening.controller.controllers[-1].runs == runs
            evening.controller.stop()


@pytest.mark.parametrize(("control", "beats"), [(AGAIN, 0), (BACK, 0), (AGAIN, 6), (BACK, 6)])
def test_a_set_that_is_thrown_again_counts_once(
    tmp_path: Path, control: Control, beats: int
) -> None:
    """From the rest after the first set, or amid the second, which has a mark already."""
    log_file = tmp_path / "log.sqlite"
    with PracticeLog.open(log_file) as log:
        recorder = recorder_of(log_file, log, resume=False)
        evening = Evening(tmp_path, (), recorder, on_drop="go-on")
        evening.wait_for_place("block 2")
        evening.wait_for(Resting)
        evening.wait_for(Playing)
        evening.wait_for(Resting)
        if beats:
            evening.press(DROP, beats)
        evening.controller.ask(control)
        evening.wait_for(Playing)
        again = evening.controller.place
        evening.wait_for(Resting)
        evening.controller.stop()
        number = int(again.split()[5])
        assert number == (2 if (control, beats) == (AGAIN, 6) else 1)
        recorder = recorder_of(log_file, log, resume=True)
        resumed = Evening(tmp_path, recorder.reached, recorder)
        resumed.wait_for(Playing)
        assert resumed.controller.place == f"block 2 of 3, set {number + 1} of 3"


@pytest.mark.parametrize("killed", [False, True])
def test_back_to_a_set_before_the_resumption_counts_it_once(
    tmp_path: Path, *, killed: bool
) -> None:
    """Also where a set after it was begun before, and never came to its end."""
    log_file, places = tmp_path / "log.sqlite", []
    for resume in (False, True, True):
        with PracticeLog.open(log_file) as log:
            recorder = recorder_of(log_file, log, resume=resume)
            evening = Evening(tmp_path, recorder.reached, recorder)
            evening.wait_for_place("block 2")
            evening.wait_for(Playing)
            places.append(evening.controller.place)
            if resume:
                evening.controller.ask(BACK)
                evening.wait_for(Playing)
                places.append(evening.controller.place)
            evening.wait_for(Resting)
            if killed and not resume:
                evening.wait_for(Playing)
                evening.wait_until_thrown(3)
            evening.controller.stop()
    assert places == [f"block 2 of 3, set {number} of 3" for number in (1, 2, 1, 2, 1)]


def test_killed_at_any_moment_it_loses_no_mark_and_goes_on(tmp_path: Path) -> None:
    log_file, seen = tmp_path / "log.sqlite", []
    given = 0
    for kill, look in enumerate(itertools.accumulate([9.0] * 30)):
        with PracticeLog.open(log_file) as log:
            recorder = recorder_of(log_file, log, resume=kill > 0)
            reached = recorder.reached
            evening = Evening(tmp_path, reached, recorder)
            evening.wait_for(Playing)
            seen.append(evening.controller.place)
            evening.wait_for_time(look % 23 + 4)
            before = evening.controller.tally.drops
            evening.controller.ask(DROP)
            given += evening.controller.tally.drops - before
        with PracticeLog.open(log_file) as log:
            assert sum(len(each.marks) for each in log.history.sets()) == given
        if seen[-1].startswith("block 3"):
            break
    blocks = [place.split(",")[0] for place in seen]
    assert blocks == sorted(blocks)
    assert blocks[-1] == "block 3 of 3"
