"""Live sound through PortAudio and a sound server in software, recorded and compared.

``THROWCOUNT_SOAK_SECONDS=120`` plays for two minutes where 12 seconds are usual.
"""

import gc
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from handmade import ToneVoice
from sound_server import CHANNELS, RATE, SoundServer, recorded
from waiting import LIMIT, wait_until

from throwcount.engine.patterns.rules import read
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.sounds.files.audio_files import as_int16
from throwcount.sounds.mixing.score import Balance, mix
from throwcount.sounds.output.commands import End, Play, ScheduledRun, Silence
from throwcount.sounds.output.player import LivePlayer
from throwcount.sounds.samples import frame_at

SOAK_SECONDS = float(os.environ.get("THROWCOUNT_SOAK_SECONDS", "12"))
KEPT_READY = 0.05
"""Seconds of sound that a player keeps ready unless told otherwise."""

IN_STEP = 0.03
"""Seconds between what is heard and what is said to be heard."""

HELD_UP = 0.002
"""Seconds between two lines of a test that show that it was not let go on."""

NEARLY_ALL = 0.9
"""Of the clicks: what a busy machine tells late is a little off."""


@pytest.fixture
def player_of(monkeypatch: pytest.MonkeyPatch) -> Callable[..., LivePlayer]:
    """Return a function that opens a player on a server."""

    def opened(server: SoundServer, **settings: float) -> LivePlayer:
        for name, value in server.environment.items():
            monkeypatch.setenv(name, value)
        player = LivePlayer(rate=RATE, **settings)
        player.speak_with(ToneVoice())
        return player

    return opened


def passage_of(player: LivePlayer, seconds: float | None, **more: object) -> ScheduledRun:
    beats = None if seconds is None else round(seconds / 60 * 170)
    run = Run((Part(read("97531"), beats),), steady(170), ready=0.1, **more)
    return ScheduledRun(run, player.soon(), Balance(tune=False))


def end(player: LivePlayer) -> None:
    player.send(End())
    wait_until(lambda: player.wait(0.0))


def until_heard(player: LivePlayer, moment: float, meanwhile: Callable[[], object]) -> None:
    while player.heard() < moment:
        assert not player.wait(0.02)
        meanwhile()


@contextmanager
def busy_cores() -> Iterator[None]:
    """Keep every core busy with other processes."""
    spinning = [
        subprocess.Popen([sys.executable, "-c", "while True: pass"])
        for _ in range(os.cpu_count() or 1)
    ]
    try:
        yield
    finally:
        for process in spinning:
            process.kill()
            process.wait()


class Garbage:
    """Objects that refer to themselves, to be looked through again and again.

    So many of them that one look holds the process up for longer than sound is kept ready, on a
    quick machine too.
    """

    def __init__(self) -> None:
        self._rings: list[list[object]] = []
        while len(self._rings) < 500_000 or self._seconds_of_a_look() < KEPT_READY:
            for _ in range(100_000):
                ring: list[object] = []
                ring.append(ring)
                self._rings.append(ring)

    def collect(self) -> None:
        del self._rings[:20]
        gc.collect()

    @staticmethod
    def _seconds_of_a_look() -> float:
        start = time.thread_time()
        gc.collect()
        return time.thread_time() - start


def test_a_capture_is_what_is_rendered_whatever_else_the_machine_does(
    sound_server: SoundServer, player_of: Callable[..., LivePlayer]
) -> None:
    garbage = Garbage()
    with sound_server.recording() as path, busy_cores(), player_of(sound_server) as player:
        scheduled = passage_of(player, SOAK_SECONDS)
        player.send(Play(scheduled))
        until_heard(player, scheduled.end or 0.0, garbage.collect)
        end(player)
    timeline = scheduled.timeline(ToneVoice())
    mixed = as_int16(
        mix(timeline, ToneVoice(), RATE, scheduled.balance).read(
            frame_at(timeline.seconds or 0.0, RATE)
        )
    )
    played = recorded(path)
    start = first_sound(played) - first_sound(mixed)
    assert np.array_equal(played[start : start + len(mixed)], mixed)
    assert not played[:start].any()
    assert not played[start + len(mixed) :].any()
    assert player.gaps == 0


def first_sound(samples: npt.NDArray[np.int16]) -> int:
    return int(np.flatnonzero(samples.any(axis=1))[0])


def clicks_of(samples: npt.NDArray[np.int16]) -> npt.NDArray[np.int64]:
    """Return the frames where clicks start: sound after a millisecond of silence."""
    sounding = np.flatnonzero(samples.any(axis=1))
    return sounding[np.diff(sounding, prepend=-RATE) > RATE // 1000]


def test_nudges_pauses_and_skips_keep_the_beat(
    sound_server: SoundServer, player_of: Callable[..., LivePlayer]
) -> None:
    with sound_server.recording() as path, player_of(sound_server) as player:
        practice = Practice(player)
        for tempo in (190, 150, 240, 236, 171):
            practice.play(1.3)
            practice.nudge(tempo)
        practice.play(1.0)
        for pause in (0.6, 1.1):
            practice.pause(pause)
            practice.play(1.4)
        practice.skip()
        practice.play(2.0)
        practice.stop()
        end(player)
    clicks = clicks_of(recorded(path))
    assert len(clicks) == len(practice.expected) > 25
    intervals = zip(pairwise(clicks), pairwise(practice.expected), strict=True)
    off = [
        abs((later - earlier) - (after - before) * RATE)
        for (earlier, later), (before, after) in intervals
    ]
    # Each click is rounded once. From one passage to the next their starts are rounded as well.
    assert max(off) <= 2
    assert sum(each > 1 for each in off) <= JOINTS


JOINTS = 3
"""Two pauses and a skip, after which another passage begins."""


class Practice:
    """Passages without words, what happens to them, and when their clicks are to be heard."""

    def __init__(self, player: LivePlayer) -> None:
        self.expected: list[float] = []
        self._player = player
        self._scheduled = passage_of(player, None, say="nothing")
        self._beat = -self._scheduled.run.count_in
        player.send(Play(self._scheduled))

    def play(self, seconds: float) -> None:
        until_heard(self._player, self._player.heard() + seconds, lambda: None)

    def nudge(self, tempo: float) -> None:
        changed = self._scheduled.at_tempo(tempo, self._player.played())
        assert changed is not None
        self._heard_before(self._scheduled.time_at(changed.pivot) - 0.001)
        self._player.send(changed)
        self._scheduled = changed.scheduled

    def pause(self, seconds: float) -> None:
        self.stop()
        self.play(seconds)
        going_on = self._scheduled.resumed(self._beat, self._player.soon())
        self._player.send(going_on)
        self._scheduled = going_on.scheduled

    def skip(self) -> None:
        self.stop()
        self._scheduled = passage_of(self._player, None, say="nothing", count_in=2)
        self._beat = -2
        self._player.send(Play(self._scheduled))

    def stop(self) -> None:
        """Fall silent between two beats, so that it is sure which was the last one heard."""
        beat = self._scheduled.beat_from(self._player.played() + 0.1)
        assert beat is not None
        wait_played(self._player, self._scheduled.time_at(beat) + 0.1)
        self._player.send(Silence())
        self._heard_before(self._scheduled.time_at(beat) + 0.01)
        self._player.wait(0.2)

    def _heard_before(self, moment: float) -> None:
        while self._scheduled.time_at(self._beat) < moment:
            self.expected.append(self._scheduled.time_at(self._beat))
            self._beat += 1


def wait_played(player: LivePlayer, moment: float) -> None:
    while player.played() < moment:
        assert not player.wait(0.005)


def test_a_server_that_dies_is_noticed_and_found_again(
    player_of: Callable[..., LivePlayer], tmp_path: Path
) -> None:
    server = SoundServer(tmp_path)  # not the one of the other tests
    try:
        with player_of(server) as player:
            player.send(Play(passage_of(player, None)))
            until_heard(player, player.soon() + 1.0, lambda: None)
            server.kill()
            # That it is noticed within a second is shown by test_playout.py, on its own clock.
            wait_until(player.fault)
            restart = threading.Timer(0.7, server.start)
            restart.start()
            player.reopen(patience=LIMIT)
            restart.join()
            with server.recording() as path:
                scheduled = passage_of(player, 3.0)
                player.send(Play(scheduled))
                until_heard(player, scheduled.end or 0.0, lambda: None)
                end(player)
            assert len(clicks_of(recorded(path))) > 4
    finally:
        server.close()


class Arrivals(threading.Thread):
    """Notes when the frames of a recording have arrived in their file.

    A frame is there no sooner than it is heard, and a look may come late: the least delay of all
    looks tells when the recording began, and so when each of its frames was heard.
    """

    def __init__(self, path: Path) -> None:
        super().__init__(daemon=True)
        self._path = path
        self._over = threading.Event()
        self._frames: list[int] = []
        self._moments: list[float] = []

    def run(self) -> None:
        while not self._over.wait(0.001):
            frames = self._path.stat().st_size // (2 * CHANNELS)
            if not self._frames or frames > self._frames[-1]:
                self._frames.append(frames)
                self._moments.append(time.monotonic())

    def stop(self) -> None:
        self._over.set()
        self.join()

    def of(self, frames: npt.NDArray[np.int64]) -> npt.NDArray[np.float64]:
        begun = np.min(np.array(self._moments) - np.array(self._frames) / RATE)
        return begun + frames / RATE


@pytest.mark.parametrize("latency", [0.03, 0.15])
def test_what_is_said_to_be_heard_is_heard(
    latency: float, sound_server: SoundServer, player_of: Callable[..., LivePlayer]
) -> None:
    """Against the moments when the clicks arrive in the recording.

    A sound arrives there some milliseconds after the server has played it (it is asked to hand
    over what it plays every 10 ms), so that the true difference is a little smaller.
    """
    told: list[tuple[float, float]] = []
    with sound_server.recording() as path, player_of(sound_server, latency=latency) as player:
        arrivals = Arrivals(path)
        arrivals.start()
        scheduled = passage_of(player, 3.0, say="nothing", stop_word=False)
        player.send(Play(scheduled))
        while player.heard() < (scheduled.end or 0.0):
            time.sleep(0.002)  # sound is played and recorded in real time
            before, heard, after = time.monotonic(), player.heard(), time.monotonic()
            if after - before < HELD_UP:  # else this process stood still in between
                told.append((heard, after))
        end(player)
        arrivals.stop()
    clicks = clicks_of(recorded(path))
    beats = [beat.time + scheduled.start for beat in scheduled.timeline(ToneVoice()) if beat.click]
    assert len(clicks) == len(beats)
    said = np.interp(beats, *np.transpose(told))
    late = arrivals.of(clicks) - said
    assert np.quantile(np.abs(late), NEARLY_ALL) < IN_STEP
