"""The process that plays, through all that may befall it, on a device that only pretends."""

import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from handmade import ToneVoice
from waiting import LIMIT, wait_until

from throwcount.engine.errors import RunError
from throwcount.engine.patterns.rules import read
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.sounds.errors import DeviceError
from throwcount.sounds.mixing.score import mix
from throwcount.sounds.output.commands import End, Play, Say, ScheduledRun, Silence
from throwcount.sounds.output.messages import Opening, early_player
from throwcount.sounds.output.player import LivePlayer
from throwcount.sounds.samples import frame_at

ROOT = Path(__file__).parents[3]
HELPERS = ROOT / "tests" / "helpers"
RATE = 44_100
LATENCY = 0.05
NOTICED = 1.0
"""Seconds in which a device that is gone has to be noticed, where nothing holds the program up."""

A_LOOK = 0.02
"""Seconds between two looks at a player."""


@pytest.fixture(autouse=True)
def pretend(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONPATH", str(HELPERS / "pretend_device"))


@pytest.fixture
def headset(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A file; while it is there, so is the headset."""
    path = tmp_path / "headset"
    path.touch()
    monkeypatch.setenv("PRETEND_HEADSET", str(path))
    return path


def passage_at(start: float, text: str = "531") -> ScheduledRun:
    return ScheduledRun(Run((Part(read(text), 6),), steady(240), ready=0.0, count_in=2), start)


def until_fault(player: LivePlayer) -> None:
    wait_until(player.fault)
    with pytest.raises(DeviceError, match=re.escape(player.fault())):
        player.wait(0)


def test_what_is_played_is_what_is_rendered(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    recording = tmp_path / "played.raw"
    monkeypatch.setenv("PRETEND_RECORDING", str(recording))
    voice = ToneVoice(rate=RATE)
    with LivePlayer() as player:
        assert player.rate == RATE
        player.speak_with(voice)
        scheduled = passage_at(player.soon())
        player.send(Play(scheduled))
        wait_until(lambda: player.heard() > (scheduled.end or 0.0))
        player.send(End())
        wait_until(lambda: player.wait(0.02))
        assert player.gaps == 0
    timeline = scheduled.timeline(voice)
    whole = mix(timeline, voice, RATE).read(frame_at(timeline.seconds or 0.0, RATE))
    played = np.fromfile(recording, np.float32).reshape(-1, 2)
    start = frame_at(scheduled.start, RATE)
    assert np.array_equal(played[start : start + len(whole)], whole)
    assert not played[start + len(whole) :].any()


@pytest.mark.parametrize("followed", [False, True])
def test_a_run_begins_as_soon_as_it_can(
    followed: bool, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    recording = tmp_path / "played.raw"
    monkeypatch.setenv("PRETEND_RECORDING", str(recording))
    voice, sent = ToneVoice(rate=RATE), []
    with LivePlayer() as player:
        player.speak_with(voice)
        player.on_command = sent.append if followed else None
        scheduled = player.begin(passage_at(0.0))
        again = player.begin(passage_at(0.0, "3"))
        assert again.start > scheduled.start
        wait_until(lambda: player.heard() > (again.end or 0.0))
    assert [each.command for each in sent if isinstance(each.command, Play)] == (
        [Play(scheduled), Play(again)] if followed else []
    )
    timeline = scheduled.timeline(voice)
    start, until = (frame_at(each.start, RATE) for each in (scheduled, again))
    whole = mix(timeline, voice, RATE).read(until - start)
    played = np.fromfile(recording, np.float32).reshape(-1, 2)
    assert np.array_equal(played[start:until], whole)
    assert not played[:start].any()


def test_a_process_that_was_started_early_is_used_and_ends() -> None:
    with early_player(Opening(None, None, LATENCY)) as child:
        assert child is not None
        with LivePlayer(latency=LATENCY, started=child) as player:
            assert process_id() == child.pid
            assert player.rate == RATE
        assert child.poll() is not None
    with early_player(Opening(None, None, LATENCY)) as child:
        assert child is not None
        assert child.poll() is None
    assert child.poll() is not None


def test_a_process_that_cannot_be_started_early_is_told_by_the_player(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for module in ("messages", "player"):
        monkeypatch.setattr(f"throwcount.sounds.output.{module}.PLAYER", ("/no/such/program",))
    with early_player(Opening(None, None, LATENCY)) as child:
        assert child is None
        with pytest.raises(DeviceError, match="cannot be started"):
            LivePlayer(started=child)


def test_its_clock_and_what_is_heard_of_it() -> None:
    clock = Clock()
    with LivePlayer(clock=clock) as player:
        wait_until(lambda: player.heard() > 0.2)
        clock.stop()
        before = furthest(player.heard)
        clock.go_on(0.5)
        wait_until(lambda: player.anchor is not None and player.anchor[1] > clock())
        assert furthest(player.heard) - before == pytest.approx(0.5, abs=0.03)
        played = furthest(player.played)
        assert played - furthest(player.heard) == pytest.approx(0.05, abs=0.03)
        # What is sent now can start in 0.3 s: time to send it, and to make its first samples.
        assert furthest(player.soon) - played == pytest.approx(0.3, abs=0.01)


class Clock:
    """The computer's clock, until it is stopped; then it goes on as it is told."""

    def __init__(self) -> None:
        self._stopped: float | None = None

    def __call__(self) -> float:
        return time.monotonic() if self._stopped is None else self._stopped

    def stop(self) -> None:
        self._stopped = time.monotonic()

    def go_on(self, seconds: float) -> None:
        assert self._stopped is not None
        self._stopped += seconds


def furthest(reading: Callable[[], float]) -> float:
    """Return the furthest of many readings for one moment: on a busy machine some lag behind."""
    found = []
    for _ in range(50):
        found.append(reading())
        time.sleep(A_LOOK)  # the device goes on in real time
    return max(found)


@pytest.mark.parametrize(
    ("device", "fate", "sentence"),
    [
        (None, "absent", "There is no sound device to play on"),
        ("Trumpet", "", "No output, or more than one, has 'Trumpet' in its name"),
    ],
)
def test_nothing_to_play_on_is_told(
    device: str | None, fate: str, sentence: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PRETEND", fate)
    with pytest.raises(DeviceError, match=sentence):
        LivePlayer(device)


def test_a_missing_portaudio_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with pytest.raises(DeviceError, match="PortAudio library was not found"):
        LivePlayer()


def test_a_process_that_cannot_even_begin_is_told(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "sounddevice.py").write_text("import os; os._exit(1)")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with pytest.raises(DeviceError, match="could not be opened"):
        LivePlayer()


@pytest.mark.parametrize("fate", ["stops", "hangs", "crashes"])
def test_a_device_that_goes_is_noticed_and_replaced(
    fate: str, headset: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PRETEND", fate)
    monkeypatch.setenv("PRETEND_SECONDS", "0.7")
    clock = Clock()
    with LivePlayer("Headset", clock=clock) as player:
        assert player.rate == 48_000
        player.speak_with(ToneVoice(rate=48_000))
        player.send(Play(passage_at(player.soon())))
        # That it is noticed within a second is shown by test_playout.py, on a clock of its own.
        until_fault(player)
        assert player.anchor is not None
        assert player.anchor[0] > 0.3
        clock.stop()
        monkeypatch.setenv("PRETEND", "")
        headset.unlink()  # and only the speakers are left
        player.reopen()
        assert player.fault() == ""
        wait_until(lambda: player.anchor is not None)
        assert player.played() <= 0.0  # its clock had not begun when this one was stopped
        assert player.rate == 48_000
        player.send(Say("again", player.soon()))
        assert not player.wait(0.3)


def test_with_nothing_left_reopening_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRETEND", "stops")
    monkeypatch.setenv("PRETEND_SECONDS", "0.1")
    with LivePlayer() as player:
        until_fault(player)
        monkeypatch.setenv("PRETEND", "absent")
        with pytest.raises(DeviceError, match="There is no sound device"):
            player.reopen(patience=0.3)


def test_a_device_that_comes_back_while_it_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRETEND", "stops")
    monkeypatch.setenv("PRETEND_SECONDS", "0.1")
    with LivePlayer() as player:
        until_fault(player)
        monkeypatch.setenv("PRETEND", "absent")
        is_back = threading.Event()

        def come_back() -> None:
            is_back.set()
            monkeypatch.setenv("PRETEND", "")

        back = threading.Timer(0.8, come_back)
        back.start()
        player.reopen(patience=LIMIT)
        assert is_back.is_set()
        back.join()
        assert player.fault() == ""


def process_id() -> int:
    """Return the id of the only process that plays for this one."""
    own = os.getpid()
    # Not cut to the width of a terminal: the path before the name may be long.
    command = ["ps", "-A", "-ww", "-o", "pid=,ppid=,args="]
    listed = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    found = [
        line.split(maxsplit=2) for line in listed if "throwcount.sounds.output.player_child" in line
    ]
    (pid,) = [int(pid) for pid, parent, _ in found if int(parent) == own]
    return pid


def test_a_process_that_hangs_is_noticed_and_closing_does_not_wait_for_it() -> None:
    clock = Clock()
    player = LivePlayer(clock=clock)
    player.speak_with(ToneVoice(rate=RATE))
    child = process_id()
    os.kill(child, signal.SIGSTOP)
    try:
        clock.stop()
        time.sleep(10 * A_LOOK)  # what it has told in real time is read
        stopped = clock()
        while not player.fault():
            clock.go_on(A_LOOK)
            assert clock() - stopped < NOTICED
        until_fault(player)
        for text in map(str, range(200)):
            player.send(Say(text, 1.0))  # far more than a pipe holds
        closing = threading.Thread(target=player.close)
        closing.start()
        closing.join(LIMIT)
        assert not closing.is_alive()
    finally:
        player.close()


def test_ctrl_c_is_not_for_it() -> None:
    with LivePlayer() as player:
        child = process_id()
        assert os.getpgid(child) != os.getpgid(0)
        os.kill(child, signal.SIGINT)
        assert not player.wait(0.3)  # in real time, in which it would have ended
        assert player.anchor is not None
        before, _ = player.anchor
        wait_until(lambda: player.fault() or (player.anchor or (0.0,))[0] > before + 0.2)
        assert not player.fault()


def test_a_parent_that_is_held_up_sees_no_fault() -> None:
    with LivePlayer() as player:
        for _ in range(3):
            time.sleep(1.2)  # in real time, in which nobody looks
            assert player.fault() == ""


PARENT = f"""
import sys, time
sys.path.insert(0, {str(HELPERS)!r})
from handmade import ToneVoice
from throwcount.sounds.output.player import LivePlayer
player = LivePlayer()
print("opened", flush=True)
time.sleep(60)
"""


@pytest.mark.parametrize("way", [signal.SIGKILL, signal.SIGTERM])
def test_it_ends_with_its_parent(way: signal.Signals) -> None:
    parent = subprocess.Popen([sys.executable, "-c", PARENT], cwd=ROOT, stdout=subprocess.PIPE)
    assert parent.stdout is not None
    with parent.stdout:
        assert parent.stdout.readline() == b"opened\n"
        children = children_of(parent.pid)
        assert len(children) == 1
        parent.send_signal(way)
        parent.wait(LIMIT)
    wait_until(lambda: not is_alive(children[0]))


def children_of(parent: int) -> list[int]:
    listed = subprocess.run(
        ["ps", "-A", "-o", "pid=,ppid="], capture_output=True, text=True, check=True
    ).stdout.splitlines()
    return [int(pid) for pid, of in map(str.split, listed) if int(of) == parent]


def is_alive(pid: int) -> bool:
    listed = subprocess.run(
        ["ps", "-o", "stat=", "-p", str(pid)], capture_output=True, text=True, check=False
    ).stdout
    return bool(listed.strip()) and not listed.startswith("Z")


def test_a_run_that_cannot_be_thrown_is_told_where_it_is_sent() -> None:
    with LivePlayer() as player:
        impossible = Run((Part(read("3"), 0),), steady(120))
        with pytest.raises(RunError, match="at least one"):
            player.send(Play(ScheduledRun(impossible, 1.0)))
        assert not player.wait(0.2)


def test_leaving_early_ends_quickly() -> None:
    with LivePlayer() as player:
        player.speak_with(ToneVoice(rate=RATE))
        player.send(Play(passage_at(player.soon(), "3")))
        wait_until(lambda: player.heard() > 0.5)
        assert player.anchor is not None
        left, _ = player.anchor
        player.send(Silence())
        player.send(End())
        wait_until(lambda: player.wait(A_LOOK))
        assert player.anchor[0] - left < NOTICED


def test_it_loads_what_it_plays_with_and_nothing_else() -> None:
    code = "import throwcount.sounds.output.player_child, sys; heavy = 'numpy' in sys.modules; "
    code += "import throwcount.sounds.output.deck; print(heavy, *sys.modules)"
    heavy, *loaded = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split()
    assert heavy == "False"  # the device is opened before all that a deck needs is loaded
    ours = {
        "throwcount.sounds.voices.system_voice",
        "throwcount.sounds.voices.recorded",
        "throwcount.sounds.files.audio_files",
    }
    unneeded = ours | set("rich click pyttsx3 soundfile platformdirs caller sqlite3".split())
    assert not unneeded & set(loaded)
