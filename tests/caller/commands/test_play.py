"""`throwcount play` and `demo`: through a sound server in software, and with nothing to play on."""

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile
from sound_server import FRAME_BYTES, RATE, SoundServer, recorded
from waiting import LIMIT, wait_until

COMMAND = (sys.executable, "-m", "throwcount.caller")
SHARED = "531 --tempo 200 --cycles 3 --ready 0.5 --no-announce --rate 48000".split()
TRIES = 10
GAPS = re.compile(r"Gaps in what was heard: .*\n")
# Modules that stand in for sounddevice, as it is without PortAudio and without any device.
NO_PORTAUDIO = "raise OSError('PortAudio library not found')"
NO_DEVICE = """
class PortAudioError(Exception): ...

def query_devices(device=None, kind=None):
    if kind is None:
        return []
    raise PortAudioError('Error querying device -1')

def query_hostapis():
    return []
"""


def run(*arguments: object, cwd: Path, **environment: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        (*COMMAND, *map(str, arguments)),
        cwd=cwd,
        env=os.environ | environment,
        capture_output=True,
        text=True,
        timeout=LIMIT,
        check=False,
    )


def played_whole(
    written: str, server: SoundServer, folder: Path, *arguments: str
) -> "tuple[str, npt.NDArray[np.int16]]":
    """Play what was written to a file, which has to be heard sample for sample.

    It is played anew where a busy machine left gaps, which are told. Returns what was told, and
    what is heard after it.
    """
    rendered, _ = soundfile.read(str(folder / written), dtype="int16")
    for _ in range(TRIES):
        with server.recording() as path:
            played = run("play", *arguments, cwd=folder, **server.environment)
        assert played.returncode == 0, played.stderr
        if not GAPS.search(played.stderr):
            break
    heard = recorded(path)
    start = np.flatnonzero(heard.any(axis=1))[0] - np.flatnonzero(rendered.any(axis=1))[0]
    end = start + len(rendered)
    assert np.array_equal(heard[start:end], rendered)
    return played.stdout, heard[end:]


@pytest.mark.parametrize("more", [[], ["--hall"]], ids=["usual", "hall"])
def test_what_is_heard_is_what_is_rendered(
    more: list[str], sound_server: SoundServer, tmp_path: Path
) -> None:
    """Sample for sample, from the first to the last."""
    assert run("render", *SHARED, *more, "-o", "out.wav", cwd=tmp_path).returncode == 0
    told, after = played_whole("out.wav", sound_server, tmp_path, *SHARED, *more)
    assert "531: fill your hands, right 2, left 1." in told
    assert re.search(r"first throw in 0:0\d   in hand: right 2, left 1", told)
    assert "9 throws." in told
    assert not after.any()


def test_a_tempo_that_throws_too_high_is_warned_of(
    sound_server: SoundServer, tmp_path: Path
) -> None:
    (tmp_path / "mine.toml").write_text("ceiling = 2.2\n", "utf-8")
    (tmp_path / "walk.toml").write_text('[[part]]\npattern = "5"\ncycles = 4\n', "utf-8")
    settings = ("--settings", "mine.toml", "--ready", "0", "--no-announce", "--count-in", "1")
    where = {"cwd": tmp_path, **sound_server.environment}
    for subject, metres in (("5", "1.48"), ("walk.toml", "1.55")):
        given = ("--tempo", "200", "--cycles", "4") if subject == "5" else ("--percent", "85")
        played = run("play", subject, *given, *settings, **where)
        assert played.returncode == 0, played.stderr
        assert f"The 5 rises {metres} m" in played.stderr
        assert "the ceiling is at 2.2 m: 223 beats a minute would do" in played.stderr
    assert "Warning" not in run("play", "5", "--cycles", "4", *settings, **where).stderr


ROUTINE = """
title = "A short walk"
[music]
file = "tune.wav"
tempo = 100
first-beat = 0.3
throws = "2:1"
[[part]]
pattern = "3"
cycles = 8
[[part]]
pattern = "531"
cycles = 2
cue = "five three one"
[[part]]
rest = true
beats = 10
[[part]]
pattern = "4"
pick-up = 1
beats = 8
"""


def test_a_routine_with_music_is_heard_as_it_is_rendered(
    sound_server: SoundServer, tmp_path: Path
) -> None:
    """Cue calls, a rest, more objects and music: all of it sample for sample."""
    noise = np.random.default_rng(3).normal(0, 0.1, (44_100 * 14, 2))
    soundfile.write(tmp_path / "tune.wav", noise, 44_100)
    (tmp_path / "walk.toml").write_text(ROUTINE, "utf-8")
    shared = "walk.toml --ready 0.5 --no-announce --rate 48000".split()
    done = run("render", *shared, "-o", "out.wav", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    told, _ = played_whole("out.wav", sound_server, tmp_path, *shared, "--no-keep")
    assert "22 throws in 3 parts." in told


def test_ctrl_c_stops_cleanly(sound_server: SoundServer, tmp_path: Path) -> None:
    with sound_server.recording() as path:
        process = subprocess.Popen(
            (*COMMAND, "play", "3", "--ready", "0", "--no-announce"),
            cwd=tmp_path,
            env=os.environ | sound_server.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        wait_until(lambda: path.stat().st_size > 0 and recorded(path)[-48_000:].any())
        begun = path.stat().st_size
        wait_until(lambda: path.stat().st_size > begun + RATE * FRAME_BYTES)  # one second of it
        process.send_signal(signal.SIGINT)
        output, errors = process.communicate(timeout=LIMIT)
    assert process.returncode == 0
    assert GAPS.sub("", errors) == ""
    assert re.search(r"Stopped\.\n\d+ throws\.", output)


@pytest.mark.parametrize(
    ("arguments", "status", "fragment"),
    [
        (["543"], 1, "meet"),
        (["531", "--to", "200"], 2, "--cycles"),
        (["none.toml"], 1, "none.toml"),
    ],
)
def test_what_is_wrong_is_told_and_nothing_is_heard(
    arguments: list[str], status: int, fragment: str, sound_server: SoundServer, tmp_path: Path
) -> None:
    with sound_server.recording() as path:
        played = run("play", *arguments, cwd=tmp_path, **sound_server.environment)
    assert played.returncode == status
    assert fragment in played.stderr
    assert not recorded(path).any()


@pytest.fixture(params=[NO_PORTAUDIO, NO_DEVICE], ids=["no PortAudio", "no device"])
def silent_machine(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, str]:
    """The environment of a machine that cannot play."""
    folder = tmp_path_factory.mktemp("modules")
    (folder / "sounddevice.py").write_text(request.param)
    return {"PYTHONPATH": str(folder)}


def test_with_nothing_to_play_on(silent_machine: dict[str, str], tmp_path: Path) -> None:
    played = run("play", "531", cwd=tmp_path, **silent_machine)
    assert played.returncode == 3
    assert "throwcount render" in played.stderr
    assert len(played.stderr.splitlines()) == 1
    assert run("play", "543", cwd=tmp_path, **silent_machine).returncode == 1


def test_the_demo_goes_to_a_file_where_nothing_plays(
    silent_machine: dict[str, str], tmp_path: Path
) -> None:
    for name in ("throwcount-demo.wav", "throwcount-demo-2.wav"):
        shown = run("demo", cwd=tmp_path, **silent_machine)
        assert shown.returncode == 0, shown.stderr
        assert str(tmp_path / name) in shown.stdout
        assert 50 < soundfile.info(str(tmp_path / name)).duration < 75
