"""`throwcount listen` as a person meets it: every form of it, and whatever is given as a take."""

import json
import signal
import subprocess
import sys
import tracemalloc
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest
import soundfile
from click.testing import Result
from takes import CallSound, Room, synthesise
from waiting import LIMIT, wait_until

from throwcount.caller.main import throwcount as command
from throwcount.caller.reports.take import Expectation, beats_in, listen
from throwcount.caller.terminal.text import ASK_FIRST
from throwcount.engine.takes.catches import expected_catches
from throwcount.sounds.samples import RATE, Mono

if TYPE_CHECKING:
    from throwcount.sounds.listening.take import Take

Run = Callable[..., Result]

SD = 0.012
DELAY = 1.7
PATTERN = ("--pattern", "3", "--tempo", "180", "--cycles", "36")


@dataclass(frozen=True)
class Stage:
    """A take, what was played while it was recorded, and the beats of that."""

    take: Path
    call: Path
    beats: Path


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory) -> Stage:
    """Return a person who throws a cascade in a room, with the call on the take."""
    folder = tmp_path_factory.mktemp("stage")
    made = Stage(folder / "take.flac", folder / "call.wav", folder / "beats.json")
    arguments = ["render", *PATTERN[1:], "-o", str(made.call), "--events", str(made.beats)]
    command(arguments, standalone_mode=False)
    samples, rate = soundfile.read(made.call, dtype="float32")
    random = np.random.default_rng(7)
    times = [
        catch.time + float(random.normal(0, SD)) for catch in expected_catches(beats_in(made.beats))
    ]
    call = CallSound(samples, rate)
    room = Room(above_noise=25, delay=DELAY, drift=60)
    take = synthesise(times, room, seed=7, call=call, missing=0.03, extra=0.03)
    soundfile.write(made.take, take.samples, take.rate)
    return made


def test_the_call_and_the_catches_are_found(run: Run, stage: Stage) -> None:
    told = json.loads(run("listen", stage.take, *PATTERN, "--json").stdout)
    assert told["call"]["delay"] == pytest.approx(DELAY, abs=0.002)
    assert told["steadiness"]["heard"] >= 0.9 * 36
    assert told["steadiness"]["asynchrony_sd"] == pytest.approx(SD, abs=0.004)
    assert told["tempo"] == pytest.approx(180, abs=1)
    assert not told["drops"]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "their own cadence"),
        (("--headphones", *PATTERN), "of the beat"),
        (("--against", "beats.json"), "Give its file with --call"),
        (("--against", "beats.json", "--headphones"), "The call is not on the take"),
        (("--against", "beats.json", "--call", "call.wav"), "on the whole, which is no fault"),
        (("--headphones", *PATTERN, "--dwell", "0.5"), "of the beat"),
    ],
)
def test_every_form_ends_in_a_page(
    run: Run, stage: Stage, arguments: tuple[str, ...], told: str
) -> None:
    files = {"beats.json": stage.beats, "call.wav": stage.call}
    result = run("listen", stage.take, *(files.get(each, each) for each in arguments))
    assert result.exit_code == 0, result.stderr
    assert told in " ".join(result.stdout.split())
    assert not result.stderr


def test_a_routine_is_listened_to(run: Run, stage: Stage, tmp_path: Path) -> None:
    routine = tmp_path / "walk.toml"
    routine.write_text(
        'title = "walk"\n[[part]]\npattern = "3"\ntempo = 180\ncycles = 36\n', encoding="utf-8"
    )
    told = json.loads(
        run("listen", stage.take, "--routine", routine, "--headphones", "--json").stdout
    )
    assert told["against"]["title"] == "walk"
    assert told["known"]


def test_what_is_kept_is_in_the_log(run: Run, stage: Stage, tmp_path: Path) -> None:
    log = ("--log", tmp_path / "log.sqlite")
    kept = run("listen", stage.take, "--keep", "--props", "clubs", *log)
    assert "Kept in the practice log as take 1" in kept.stdout
    assert stage.take.name in run("log", *log).stdout


def test_a_picture_is_drawn_once(run: Run, stage: Stage, tmp_path: Path) -> None:
    picture = tmp_path / "take.svg"
    assert run("listen", stage.take, "--picture", picture).exit_code == 0
    again = run("listen", stage.take, "--picture", picture)
    assert again.exit_code == 3
    assert "There is a file of that name already" in again.stderr


def test_leave_is_asked_for_in_the_help(run: Run) -> None:
    assert ASK_FIRST in " ".join(run("listen", "--help").stdout.split())


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--pattern", "3", "--against", "x"), "both say what was thrown"),
        (("--pattern", "3", "--call", "x"), "known without --call"),
        (("--call", "x", "--headphones"), "keep one"),
        (("--tempo", "180"), "--tempo belongs to --pattern or --routine"),
        (("--dwell", "1"), "--dwell"),
        (("--picture", "take.pdf"), ".svg or .png"),
    ],
)
def test_what_contradicts_itself_is_refused(
    run: Run, tmp_path: Path, arguments: tuple[str, ...], told: str
) -> None:
    result = run("listen", tmp_path / "take.wav", *arguments)
    assert result.exit_code == 2
    assert told in result.stderr


def test_beats_that_are_none_are_told_as_json(run: Run, stage: Stage, tmp_path: Path) -> None:
    (tmp_path / "e.json").write_text("{}", encoding="utf-8")
    result = run("listen", stage.take, "--against", tmp_path / "e.json", "--json")
    assert result.exit_code == 1
    assert json.loads(result.stdout)["valid"] is False
    assert not result.stderr


def with_samples(samples: "np.ndarray[Any, Any]", subtype: str = "FLOAT") -> Callable[[Path], None]:
    return lambda path: soundfile.write(path, samples, RATE, format="WAV", subtype=subtype)


def noise(seconds: float, level: float = 0.1) -> "np.ndarray[Any, Any]":
    return np.random.default_rng(3).normal(0, level, round(seconds * RATE)).astype(np.float32)


@pytest.mark.parametrize(
    ("write", "status", "told"),
    [
        (with_samples(np.zeros(3 * RATE)), 0, "silent from end to end"),
        (with_samples(np.full(3 * RATE, np.nan, np.float32)), 0, "silent from end to end"),
        (with_samples(np.ones(1)), 0, "No catch was heard"),
        (with_samples(noise(6, 3.0).clip(-1, 1)), 0, "(clipped)"),
        (with_samples(noise(4, 5e37)), 0, "(clipped)"),
        (with_samples(noise(3)), 0, "No catch was heard"),
        (with_samples(np.zeros(0)), 3, "holds no sound"),
        (Path.touch, 3, "the file is empty"),
        (Path.mkdir, 3, "it is a folder"),
        (lambda path: path.write_text("no sound\n"), 3, "not a recording"),
        (lambda _: None, 3, "there is no such file"),
    ],
)
def test_every_file_ends_in_a_sentence(
    run: Run, tmp_path: Path, write: Callable[[Path], object], status: int, told: str
) -> None:
    write(tmp_path / "take.wav")
    for pattern in ((), ("--pattern", "3", "--tempo", "180")):
        result = run("listen", tmp_path / "take.wav", *pattern)
        assert result.exit_code == status, result.stderr
        assert told in " ".join((result.stdout if status == 0 else result.stderr).split())
        assert bool(result.stderr) == (status != 0)


@pytest.mark.parametrize("held", ["2", "20"])
def test_a_pattern_of_which_nothing_is_caught_ends(run: Run, tmp_path: Path, held: str) -> None:
    with_samples(noise(3))(tmp_path / "take.wav")
    result = run("listen", tmp_path / "take.wav", "--pattern", held)
    assert result.exit_code == 1
    assert "nothing leaves a hand" in result.stderr


def test_without_pyav_the_extra_is_named(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    (tmp_path / "take.m4a").write_bytes(b"\0\0\0\x18ftypM4A ")
    result = run("listen", tmp_path / "take.m4a")
    assert result.exit_code == 3
    assert "[phone]" in result.stderr


def test_without_matplotlib_nothing_is_listened_to_in_vain(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    result = run("listen", tmp_path / "none.wav", "--picture", tmp_path / "take.svg")
    assert result.exit_code == 3
    assert "[pictures]" in result.stderr


@pytest.mark.parametrize(
    ("write", "told"),
    [
        (lambda path: path.write_text("no sound\n"), "not a WAV, FLAC, OGG or MP3 file"),
        (Path.mkdir, "it is a folder"),
        (lambda _: None, "there is no such file"),
        (with_samples(np.zeros((9, 3))), "has 3 channels"),
    ],
)
def test_a_call_that_is_none_is_told(
    run: Run, stage: Stage, tmp_path: Path, write: Callable[[Path], object], told: str
) -> None:
    write(tmp_path / "call.wav")
    result = run("listen", stage.take, "--call", tmp_path / "call.wav")
    assert result.exit_code == 3
    assert told in result.stderr


LISTENING = """
import sys
from pathlib import Path
import soundfile
from throwcount.caller.main import run
begun = Path(sys.argv.pop(1))
read = soundfile.SoundFile.read
def reads(*arguments, **more):
    begun.touch()
    return read(*arguments, **more)
soundfile.SoundFile.read = reads
run()
"""
"""The program, which also makes a file of a given name when it begins to read a recording."""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows sends no such signal to one process")
def test_ctrl_c_ends_it_and_leaves_nothing_behind(
    tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    take = tmp_path / "night.flac"
    with soundfile.SoundFile(take, "w", RATE, 1) as file:
        for _ in range(120):
            file.write(np.zeros(60 * RATE, dtype=np.int16))
    arguments = ("listen", take.name, "--json", "--picture", "night.svg")
    begun = tmp_path_factory.mktemp("told") / "begun"
    with subprocess.Popen(
        [sys.executable, "-c", LISTENING, str(begun), *arguments],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        wait_until(begun.exists)
        process.send_signal(signal.SIGINT)
        told, faults = process.communicate(timeout=LIMIT)
    assert (process.returncode, told.strip(), faults.strip()) == (130, b"", b"")
    assert [path.name for path in tmp_path.iterdir()] == [take.name]


@dataclass(frozen=True)
class EndlessNight:
    """A take of thuds in a quiet room that is made as it is read."""

    seconds: float
    warning: None = None
    rate: int = RATE

    def blocks(self, size: int) -> Iterator[Mono]:
        random = np.random.default_rng(5)
        thud = random.normal(0, 0.2, 1_000) * np.exp(-np.arange(1_000) / 300)
        for start in range(0, round(self.seconds * RATE), size):
            block = random.normal(0, 0.002, size)
            if start // size % 2 == 0 and size >= len(thud):
                block[: len(thud)] += thud
            yield block.astype(np.float32)


def peak_megabytes(minutes: float) -> float:
    tracemalloc.start()
    try:
        take = cast("Take", EndlessNight(60 * minutes))
        heard = listen(take, Path("night.wav"), Expectation())
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert heard.report.thuds > 100 * minutes
    return peak / 1e6


def test_memory_is_flat() -> None:
    """Three minutes more of samples alone would be 17 MB; what is found on them is kept."""
    assert peak_megabytes(3.5) < peak_megabytes(0.5) + 3
