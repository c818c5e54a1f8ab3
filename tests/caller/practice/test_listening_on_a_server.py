"""A practice that is listened to, through a sound server in software whose sound is all heard."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from statistics import mean, stdev

import numpy as np
import pytest
import soundfile
from juggler import Juggler, Manner
from sound_server import SoundServer
from waiting import LIMIT, wait_until

from throwcount.caller.options.request import Request
from throwcount.caller.pieces.pattern import pattern_piece
from throwcount.caller.pieces.piece import called_voice
from throwcount.caller.practice.controller import Controller
from throwcount.caller.practice.listened_practice import heard_practice
from throwcount.caller.practice.listening import LiveListener
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.loop import PracticeLoop
from throwcount.caller.practice.pattern_controller import PatternController
from throwcount.caller.practice.recorder import Recorder
from throwcount.caller.reports.take import Expectation
from throwcount.engine.patterns.rules import read
from throwcount.sounds.listening.microphone import Microphone
from throwcount.sounds.listening.take import TakeDestination, open_take
from throwcount.sounds.output.player import LivePlayer
from throwcount.sounds.samples import RATE

DROPPED = 21
IN_TIME = 4.5
"""Seconds from the catch that fails to the mark, at most. On an idle machine it takes 1.5 s; a busy
one lets the microphone lag, and its holes in the sound are heard as thuds, which put a mark off."""

HEARD = 0.7
"""Share of the catches, at least: a call as loud as these covers some."""

SD_NEAR, LEAD_NEAR = 0.004, 0.015
"""Seconds: of some thirty catches the sd is known to an eighth, and the delays are the server's."""

REQUEST = Request(
    tempo=240,
    cycles=13,
    ready=2.5,
    announce=False,
    mark_drops=True,
    on_drop="go-on",
    voice_level=-6.0,
    click_level=-6.0,
)
"""At these levels the call is as loud as the thuds."""
PATTERN = read("441")


@pytest.fixture
def on_server(sound_server: SoundServer, monkeypatch: pytest.MonkeyPatch) -> SoundServer:
    for name, value in sound_server.environment.items():
        monkeypatch.setenv(name, value)
    return sound_server


class Together:
    """A juggler and a listener, both with the practice."""

    def __init__(self, juggler: Juggler, listener: LiveListener, player: LivePlayer) -> None:
        self.marked: list[float] = []
        self._juggler, self._listener, self._player = juggler, listener, player

    def step(self, controller: Controller) -> str:
        self._juggler.step(controller)
        before = controller.tally.heard
        told = self._listener.step(controller)
        if controller.tally.heard > before:
            self.marked.append(self._player.heard())
        return told

    def note_restart(self) -> None:
        self._listener.note_restart()


@dataclass
class Practised:
    """A practice that is over."""

    listener: LiveListener
    controller: Controller
    marked: list[float]
    late: list[float]


def practised(take: Path) -> Practised:
    """Practise a set and record it."""
    with LivePlayer() as player, LivePlayer() as hands:
        voice = called_voice(REQUEST, player.rate)
        listener = LiveListener(
            REQUEST, player, Microphone(None, TakeDestination(take), player.rate), voice
        )
        player.speak_with(voice)
        juggler = Juggler(player, hands, voice, Manner(drops=[DROPPED]))
        together = Together(juggler, listener, player)
        session = LiveSession(player, voice, Recorder(), together)
        piece = pattern_piece(PATTERN, REQUEST, voice, cycles=None)
        controller = PatternController(REQUEST, piece, session)
        controller.begin()
        PracticeLoop(REQUEST, session, controller).practise()
        listener.finish()
        (late,) = juggler.caught
        return Practised(listener, controller, together.marked, late)


def check(done: Practised, take: Path) -> None:
    """Check what was marked meanwhile, and what is told of the recording."""
    (stretch,) = done.listener.stretches
    failed = next(catch.time for catch in stretch.catches() if catch.beat >= DROPPED)
    assert done.controller.tally.drops == done.controller.tally.heard == len(done.marked) == 1
    assert failed < done.marked[0] < failed + IN_TIME
    heard = heard_practice(done.listener, take, Expectation("441", pattern=PATTERN))
    assert heard.call is not None
    steady, (drop,) = heard.report.steadiness, heard.report.drops
    assert steady is not None
    assert drop.catch is not None
    assert abs(drop.catch.beat - DROPPED) <= 3
    assert steady.heard > HEARD * len(done.late)
    assert steady.asynchrony_sd == pytest.approx(stdev(done.late), abs=SD_NEAR)
    assert steady.lead == pytest.approx(mean(done.late), abs=LEAD_NEAR)


@pytest.mark.usefixtures("on_server")
def test_a_set_with_a_drop_through_loudspeakers(tmp_path: Path) -> None:
    """The call is as loud as the thuds; it is taken out, and the drop marks the set."""
    take = tmp_path / "take.wav"
    check(practised(take), take)


@pytest.fixture
def started(sound_server: SoundServer, tmp_path: Path) -> Callable[..., "subprocess.Popen[str]"]:
    def start(*arguments: str) -> "subprocess.Popen[str]":
        return subprocess.Popen(
            (sys.executable, "-m", "throwcount.caller", "listen", "--live", *arguments),
            env=sound_server.environment | {"TMPDIR": str(tmp_path)},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    return start


def listening_child(of: int) -> int:
    """Return the number of the process that listens, once it is there."""
    children = Path(f"/proc/{of}/task/{of}/children")

    def listening() -> list[int]:
        return [
            int(child)
            for child in children.read_text("ascii").split()
            if b"microphone_child" in Path(f"/proc/{child}/cmdline").read_bytes()
        ]

    (child,) = wait_until(listening)
    return child


def seconds_kept(folder: Path) -> float:
    """Return how long the take is that is being written: as WAV, 16 bits, 48 kHz."""
    sizes = [path.stat().st_size for path in folder.glob("*-unfinished.wav")]
    return max(sizes, default=0) / (2 * 48_000)


QUICK = "3 --tempo 300 --beats 10 --ready 0.1 --no-announce --count-in 1 --no-keep".split()


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="looks for processes as Linux has")
def test_one_recording_is_kept_and_one_microphone_dies_which_stops_nothing(
    started: Callable[..., "subprocess.Popen[str]"], tmp_path: Path
) -> None:
    """What stood where the recording was to be is neither lost nor taken for it."""
    take, former = tmp_path / "kept.flac", tmp_path / "former.wav"
    soundfile.write(former, np.zeros(8_000), 8_000)
    before = former.read_bytes()
    kept = started(*QUICK, "--take", str(take))
    lost = started(*QUICK, "--json", "--ready", "1.5", "--take", str(former), "--force")
    child = listening_child(lost.pid)
    # More than a second of it is kept before the microphone is lost.
    wait_until(lambda: seconds_kept(tmp_path) > 1.2, lambda: "nothing was kept")
    os.kill(child, signal.SIGKILL)
    output, told = lost.communicate(timeout=LIMIT)
    assert lost.returncode == 0, told
    assert "goes on without being listened to" in told
    assert "10 throws." in told
    document = json.loads(output)
    assert document["microphone"]["lost"]
    assert document["take"] is None
    assert former.read_bytes() == before
    output, errors = kept.communicate(timeout=LIMIT)
    assert kept.returncode == 0, errors
    assert "ask them first" in output
    assert "kept.flac, 0:0" in output
    assert take.stat().st_size > 0
    left = tmp_path / "former-unfinished.wav"
    assert f"{left}." in "".join(told.split())
    with open_take(left) as opened:
        assert sum(len(block) for block in opened.blocks(RATE)) > RATE
    assert not [*tmp_path.glob(".throwcount-*"), *tmp_path.glob("kept-*")]


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="looks for processes as Linux has")
def test_a_practice_that_is_killed_leaves_no_recording(
    started: Callable[..., "subprocess.Popen[str]"], tmp_path: Path
) -> None:
    """What is recorded for the report alone is deleted by the process that listens."""
    process = started(*QUICK, "--ready", "60")
    child = listening_child(process.pid)
    recording = ".throwcount-*.part/*.*"
    wait_until(lambda: list(tmp_path.glob(recording)), lambda: "nothing was recorded")
    process.kill()
    process.communicate(timeout=LIMIT)
    wait_until(lambda: not Path(f"/proc/{child}").exists())
    assert list(tmp_path.glob(recording)) == []
