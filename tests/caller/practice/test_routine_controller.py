"""A routine led from part to part, on a deck whose clock the test moves."""

from pathlib import Path

import pytest
from rehearsal import RATE, Rehearsal, cue_voice

from throwcount.caller.practice.controller import NO_SET
from throwcount.caller.practice.loop import placed
from throwcount.caller.practice.routine_controller import MUSIC_KEEPS_TIME
from throwcount.caller.practice.sessions import routine_summary
from throwcount.caller.practice.situation import Ended, Paused, Playing, Resting
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
from throwcount.caller.terminal.glance import Glance
from throwcount.engine.timing.run import Places, clock_of
from throwcount.sounds.mixing.music_bed import Music
from throwcount.sounds.output.commands import Continue, End, Silence, SpeakUp
from throwcount.sounds.voices.voice import CueVoice

AGAIN_READY = 3.0
"""Seconds in which hands are filled again."""


@pytest.fixture(scope="module")
def voice() -> CueVoice:
    return cue_voice()


def test_a_routine_leads_itself_and_keeps_each_part(voice: CueVoice) -> None:
    rehearsal = Rehearsal(voice)
    assert rehearsal.controller.place == "part 1 of 4"
    rehearsal.wait(lambda: isinstance(rehearsal.controller.situation, Ended))
    assert rehearsal.diary.lines == [
        "set at 120",
        "finished after 12",
        "set at 120",
        "finished after 12",
        "set at 120",
        "finished after 16",
    ]
    assert isinstance(rehearsal.deck.sent[-1], End)
    assert list(routine_summary(rehearsal.controller)) == ["40 throws in 3 parts."]


@pytest.mark.parametrize(
    ("beat", "asked", "opening"),
    [
        (3, AGAIN, "3"),
        (14, AGAIN, "the well"),
        (3, NEXT, "the well"),
        (14, NEXT, "4"),  # over the rest
        (30, NEXT, "4"),
        (14, BACK, "3"),
        (3, BACK, "3"),
        (45, BACK, "the well"),
    ],
)
def test_again_next_and_back(voice: CueVoice, beat: int, asked: object, opening: str) -> None:
    rehearsal = Rehearsal(voice)
    rehearsal.wait_until_beat(beat)
    rehearsal.controller.ask(asked)
    assert any(isinstance(command, Silence) for command in rehearsal.deck.sent)
    run = rehearsal.played()[-1].scheduled.run
    assert run.opening.title == opening
    assert run.ready == AGAIN_READY
    # Which part it is, is said while the hands are filled.
    assert [cue.text.split()[0] for cue in run.prelude] == ["next"]


def test_next_after_the_last_part_ends(voice: CueVoice) -> None:
    rehearsal = Rehearsal(voice)
    rehearsal.wait_until_beat(45)
    rehearsal.controller.ask(NEXT)
    assert isinstance(rehearsal.controller.situation, Ended)
    assert rehearsal.diary.lines[-1].startswith("stopped after")


def test_a_pause_goes_on_with_the_part_that_was_cut(voice: CueVoice) -> None:
    rehearsal = Rehearsal(voice)
    rehearsal.wait_until_beat(14)
    rehearsal.controller.ask(PAUSE)
    assert isinstance(rehearsal.controller.situation, Paused)
    rehearsal.deck.now += 100
    rehearsal.controller.ask(PAUSE)
    assert rehearsal.played()[-1].scheduled.run.opening.title == "the well"


def test_marks_belong_to_the_part_that_is_thrown(voice: CueVoice) -> None:
    rehearsal = Rehearsal(voice)
    rehearsal.wait_until_beat(5)
    rehearsal.controller.ask(DROP)
    rehearsal.wait_until_beat(15)
    rehearsal.controller.ask(CLEAN)
    assert rehearsal.diary.lines[1] == "drop on 5"
    assert rehearsal.diary.lines[-1] == "clean on 3"
    assert (rehearsal.controller.tally.clean, rehearsal.controller.tally.drops) == (1, 1)


@pytest.mark.parametrize(
    ("beat", "asked", "told", "marks"),
    [
        (-2, (DROP,), NO_SET, []),
        (5, (DROP,), "Drop kept for part 1 of 4.", [(1, "drop")]),
        (30, (CLEAN,), "Clean kept for part 2 of 4.", [(2, "clean")]),  # in the rest after it
        (5, (NEXT, DROP), "Drop kept for part 1 of 4.", [(1, "drop")]),
        (5, (AGAIN, CLEAN), "Clean kept for part 1 of 4.", [(1, "clean")]),
    ],
)
def test_a_mark_is_for_the_part_thrown_last(
    beat: int, asked: tuple[str, ...], told: str, marks: list[tuple[int, str]], voice: CueVoice
) -> None:
    rehearsal = Rehearsal(voice)
    rehearsal.wait_until_beat(beat)
    for each in asked:
        rehearsal.controller.ask(each)
    assert rehearsal.controller.answer == told
    assert rehearsal.diary.marks == marks
    tally = rehearsal.controller.tally
    assert tally.clean + tally.drops == len(marks)


def test_faster_changes_the_tempo_of_all_that_comes(voice: CueVoice) -> None:
    rehearsal = Rehearsal(voice)
    rehearsal.wait_until_beat(5)
    rehearsal.controller.ask(FASTER)
    changed = next(each for each in rehearsal.deck.sent if isinstance(each, Continue))
    assert changed.scheduled.run.tempo.tempo_at(50) == pytest.approx(124.0)
    rehearsal.controller.ask(NEXT)
    assert rehearsal.played()[-1].scheduled.run.tempo.start == pytest.approx(124.0)


def test_a_ceiling_ends_a_change_to_a_slower_tempo(voice: CueVoice) -> None:
    # The 5 of the second part rises 4.12 m at 120, and 4.3 m at 117.5 beats a minute.
    rehearsal = Rehearsal(voice, ceiling=5.3)
    rehearsal.wait_until_beat(5)
    for tempo, told in ((118, "No slower: the ceiling is at 5.3 m."), (118, "No slower")):
        rehearsal.controller.ask(SLOWER)
        changed = next(each for each in rehearsal.deck.sent[::-1] if isinstance(each, Continue))
        assert changed.scheduled.run.tempo.end == pytest.approx(tempo)
        assert rehearsal.controller.answer.startswith(told)
    rehearsal.controller.ask(NEXT)
    assert rehearsal.played()[-1].scheduled.run.tempo.start == pytest.approx(118)
    rehearsal.controller.ask(FASTER)
    assert "The 5 rises 3.99 m" in rehearsal.controller.answer


def test_music_keeps_its_tempo(voice: CueVoice) -> None:
    music = Music(Path("none"), RATE, 1000, 0.5, -20.0)
    rehearsal = Rehearsal(voice, music=music)
    rehearsal.wait_until_beat(5)
    rehearsal.controller.ask(FASTER)
    assert rehearsal.controller.answer == MUSIC_KEEPS_TIME
    assert not any(isinstance(each, Continue) for each in rehearsal.deck.sent)
    rehearsal.controller.ask(VOICE)
    assert rehearsal.controller.answer == ""
    assert rehearsal.deck.sent[-1] == SpeakUp(on=False)


def test_several_times_with_rests_between(voice: CueVoice) -> None:
    rehearsal = Rehearsal(voice, sets=2, rest=5.0)
    rehearsal.controller.ask(NEXT)  # so that the first time ends with a run from its second part
    rehearsal.wait(lambda: isinstance(rehearsal.controller.situation, Resting))
    assert rehearsal.controller.place == "part 1 of 4, time 2 of 2"
    rehearsal.wait(lambda: isinstance(rehearsal.controller.situation, Playing))
    rehearsal.wait(lambda: isinstance(rehearsal.controller.situation, Ended))
    assert len(rehearsal.played()) == 3


def test_a_lost_device_begins_the_part_again(voice: CueVoice) -> None:
    rehearsal = Rehearsal(voice)
    rehearsal.wait_until_beat(14)
    rehearsal.controller.keep()
    rehearsal.deck.now = 0.0
    rehearsal.controller.start_over()
    assert rehearsal.played()[-1].scheduled.run.opening.title == "the well"
    assert rehearsal.diary.lines[-1] == "stopped after 3"


def test_stopped_in_the_middle(voice: CueVoice) -> None:
    rehearsal = Rehearsal(voice)
    rehearsal.wait_until_beat(14)
    rehearsal.controller.ask(STOP)
    assert rehearsal.diary.lines[-1] == "stopped after 3"
    assert isinstance(rehearsal.controller.situation, Ended)


def test_the_screen_knows_what_comes(voice: CueVoice) -> None:
    rehearsal = Rehearsal(voice)
    run = rehearsal.played()[0].scheduled.run
    beats = {beat.beat: beat for beat in rehearsal.played()[0].scheduled.timeline(voice)}
    places = Places(run)
    assert placed(Glance(beat=beats[7]), places).following == "the well in 5 beats"
    assert placed(Glance(beat=beats[32]), places).large == "rest"
    assert placed(Glance(beat=beats[45]), places).following == ""
    assert clock_of(run).time_at(0) > 0
