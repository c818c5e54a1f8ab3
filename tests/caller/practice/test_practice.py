"""Whole practices, through a sound server in software, with keys from a terminal."""

import re
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner
from keyed_practice import CLEAN, DROP, FASTER, PEDAL, STOP, KeyedPractice
from sound_server import SoundServer

from throwcount.caller.commands.play import play_command as play
from throwcount.caller.log.history import History
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import SetRecord
from throwcount.engine.patterns.rules import read

pytest.importorskip("pty", reason="this system has no terminals of this kind")
QUICK = "--ready 0.2 --no-announce --count-in 1 --rest 0.5 --tempo 240"
MUTE = "--say nothing --no-speak-rests --no-stop-word"
"""Where words are not what it is about: so nothing has to be said at the end either."""


@pytest.fixture
def practise(sound_server: SoundServer, tmp_path: Path) -> Iterator[Callable[[str], KeyedPractice]]:
    started: list[KeyedPractice] = []

    def start(arguments: str) -> KeyedPractice:
        arguments = f"play {arguments} --log {tmp_path / 'log.sqlite'}"
        started.append(KeyedPractice(sound_server.environment, arguments))
        return started[-1]

    yield start
    for practice in started:
        practice.close()


@pytest.fixture
def kept(tmp_path: Path) -> Callable[[], list[SetRecord]]:
    def sets() -> list[SetRecord]:
        with History.open(tmp_path / "log.sqlite") as history:
            return sorted(history.sets(), key=lambda each: each.number)

    return sets


def test_a_practice_of_sets(
    practise: Callable[[str], KeyedPractice], kept: Callable[[], list[SetRecord]]
) -> None:
    practice = practise(
        f"531 {QUICK} --sets 3 --cycles 2 --raise 10 --props beanbags --on-drop go-on"
    )
    practice.wait_for("cycle 1")
    practice.press(DROP)
    practice.wait_for("drops 1")
    practice.wait_for("set 2 of 3")
    practice.press(CLEAN)
    assert practice.end() == 0
    assert [each.tempo_start for each in kept()] == [240, 250, 260]
    assert [each.status for each in kept()] == ["finished"] * 3
    assert [each.beats_thrown for each in kept()] == [6] * 3
    assert kept()[0].outcome == "drop"
    assert {each.props for each in kept()} == {"beanbags"}
    assert any("18 throws in 3 sets." in line for line in practice.shown)


def test_a_mark_in_the_ready_time_is_kept_for_the_set_before(
    practise: Callable[[str], KeyedPractice], kept: Callable[[], list[SetRecord]]
) -> None:
    practice = practise(f"531 {QUICK} {MUTE} --count-in 12 --sets 2 --cycles 2")
    practice.press(CLEAN)
    practice.wait_for("Nothing has been thrown yet")
    practice.wait_for("set 2 of 2")
    practice.press(DROP)
    practice.wait_for("Drop kept for set 1 of 2.")
    assert practice.end() == 0
    assert [[mark.mark for mark in each.marks] for each in kept()] == [["drop"], []]


def test_the_staircase_goes_up_without_a_hand(
    practise: Callable[[str], KeyedPractice], kept: Callable[[], list[SetRecord]]
) -> None:
    stairs = "--staircase --clean-sets 1 --unmarked clean"
    assert practise(f"51 {QUICK} {MUTE} --sets 3 --cycles 2 {stairs}").end() == 0
    assert [each.tempo_start for each in kept()] == [240, 256, 272]


def test_attempts_with_one_pedal(
    practise: Callable[[str], KeyedPractice],
    kept: Callable[[], list[SetRecord]],
    tmp_path: Path,
) -> None:
    """Catches within three of those of the beat that was shown when the pedal was pressed."""
    practice = practise(f"531 {QUICK} {MUTE} --rest 30 --attempts 3 --one-pedal --props plums")
    cycles = (3, 7, 5)
    for number, cycle in enumerate(cycles, 1):
        practice.wait_for(f"attempt {number} of 3; 531: cycle {cycle},")
        practice.press(PEDAL)
        practice.wait_for(f"Drop kept for attempt {number} of 3.")
        if number < len(cycles):
            time.sleep(0.8)  # in real time: a foot is not as quick as a held key repeats
            practice.press(PEDAL)  # go on, and not after the half minute
    assert practice.end() == 0
    assert [each.outcome for each in kept()] == ["drop"] * 3
    with PracticeLog.open(tmp_path / "log.sqlite") as log:
        best = log.history.best_run(read("531"), "plums")
    told = next(line for line in practice.shown if "Catches: " in line)
    runs = [int(number) for number in re.findall(r"[0-9]+", told.split("Best")[0])]
    assert all(abs(run - 3 * (cycle - 1)) <= 3 for run, cycle in zip(runs, cycles, strict=True))
    assert best == max(runs)
    assert f"Best: {best}." in told


def test_a_sound_server_that_dies_and_comes_back(
    practise: Callable[[str], KeyedPractice],
    kept: Callable[[], list[SetRecord]],
    sound_server: SoundServer,
) -> None:
    """The practice goes on from the start of the set, and every set and mark is in the log."""
    practice = practise(f"531 {QUICK} {MUTE} --sets 2 --cycles 6")
    practice.wait_for("cycle 1")
    practice.press(CLEAN)
    practice.wait_for("clean 1")
    with started_again(sound_server):
        time.sleep(1.5)  # in real time, so that some tries to open it anew fail
    assert practice.end() == 0, practice.shown
    assert [each.status for each in kept()] == ["stopped", "finished", "finished"]
    assert [each.beats_thrown for each in kept()[1:]] == [18, 18]
    assert 0 < kept()[0].beats_thrown < 18
    assert [len(each.marks) for each in kept()] == [1, 0, 0]


@contextmanager
def started_again(server: SoundServer) -> Iterator[None]:
    """Let the server be dead while the context lasts."""
    server.kill()
    try:
        yield
    finally:
        server.start()


def test_a_sound_server_that_is_gone(
    practise: Callable[[str], KeyedPractice],
    kept: Callable[[], list[SetRecord]],
    sound_server: SoundServer,
) -> None:
    practice = practise(f"531 {QUICK} --cycles 300")
    practice.wait_for("cycle 1")
    with started_again(sound_server):
        assert practice.end() == 3
    assert "throwcount render" in practice.shown[-1]
    assert [each.status for each in kept()] == ["stopped"]
    # Ten seconds of waiting for the device are forty beats, of which none was thrown.
    assert 1 <= kept()[0].beats_thrown < 20


@pytest.mark.parametrize("number", [signal.SIGHUP, signal.SIGTERM])
def test_a_signal_to_end_before_the_first_throw(
    number: int, practise: Callable[[str], KeyedPractice], kept: Callable[[], list[SetRecord]]
) -> None:
    practice = practise("531 --ready 60 --no-announce")
    practice.wait_for("fill your hands")
    practice.send(number)
    assert practice.end() == 128 + number
    assert [each.status for each in kept()] == ["stopped"]


def test_keys_and_pasted_garbage(
    practise: Callable[[str], KeyedPractice], kept: Callable[[], list[SetRecord]]
) -> None:
    practice = practise(f"531 {QUICK}")
    practice.wait_for("cycle 1")
    practice.press(b"\x1b[200~qqq dd \x1b[5~ cc\x1b[201~")
    practice.press(FASTER)
    practice.wait_for("244 a minute")
    practice.press(STOP)
    assert practice.end() == 0
    assert kept()[0].marks == ()
    assert kept()[0].tempo_end == 244


def test_going_on_from_the_tempo_last_held(tmp_path: Path, sound_server: SoundServer) -> None:
    log = tmp_path / "log.sqlite"
    arguments = f"531 {QUICK} --cycles 2 --unmarked clean --log {log}".split()
    with pytest.MonkeyPatch.context() as patch:
        for name, value in sound_server.environment.items():
            patch.setenv(name, value)
        assert CliRunner().invoke(play, arguments).exit_code == 0
        rotated = ["315", *arguments[1:], "--resume", "--tempo", "100"]
        resumed = CliRunner().invoke(play, rotated)
    assert "Going on from 240 beats a minute" in resumed.output
    with PracticeLog.open(log) as kept:
        held = kept.history.last_held(read("531"))
    assert held is not None
    assert (held.tempo, held.catches) == (240, 6)


@pytest.mark.parametrize(
    ("arguments", "fragment"),
    [
        ("--staircase --raise 5", "--staircase lets the marks"),
        ("--back", "add --raise"),
        ("--back --raise 5 --sets 2", "at least 3 sets"),
        ("--rounds 2", "--sets N"),
        ("--rest -1", "--rest"),
        ("--to 200 --tempo 100", "--to changes the tempo over a length"),
    ],
)
def test_practices_that_cannot_be(arguments: str, fragment: str, sound_server: SoundServer) -> None:
    with pytest.MonkeyPatch.context() as patch:
        for name, value in sound_server.environment.items():
            patch.setenv(name, value)
        result = CliRunner().invoke(play, ["531", *arguments.split()])
    assert result.exit_code == 2
    assert fragment in result.output
