"""What commands read is a file, and what they write is never what they read."""

import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import Result
from waiting import LIMIT

from throwcount.caller.options.request import Request
from throwcount.caller.pieces.routine import routine_source
from throwcount.sounds.errors import ClashError
from throwcount.sounds.files.whole_files import files_of_one_command
from throwcount.sounds.listening.take import TakeDestination, check_take

Run = Callable[..., Result]

ROUTINE = """
[music]
file = "music.ogg"
beats = "beats.txt"
[[part]]
pattern = "531"
cycles = 2
"""

posix = pytest.mark.skipif(os.name == "nt", reason="needs pipes and devices of POSIX")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Go to a folder with a routine, its music and its beats."""
    monkeypatch.chdir(tmp_path)
    noise = np.random.default_rng(4).uniform(-0.1, 0.1, 4 * 8_000)
    soundfile.write("music.ogg", noise, 8_000, "PCM_16", format="WAV")  # as the name may be wrong
    Path("beats.txt").write_text("".join(f"{0.5 + 0.3 * beat}\n" for beat in range(12)))
    Path("r.toml").write_text(ROUTINE)
    Path("linked.ogg").symlink_to("music.ogg")
    Path("other.ogg").hardlink_to("music.ogg")
    for name in ("settings.toml", "s.svg"):
        Path(name).write_text("hands = 1.1\n")
    return tmp_path


@pytest.mark.parametrize(
    ("arguments", "kept"),
    [
        ("render r.toml -o music.ogg", "music.ogg"),
        ("render r.toml -o linked.ogg", "music.ogg"),
        ("render r.toml -o other.ogg", "music.ogg"),
        ("render r.toml -o out.ogg --events r.toml", "r.toml"),
        ("render r.toml -o out.ogg --events beats.txt", "beats.txt"),
        ("render 531 --settings settings.toml -o out.ogg --events settings.toml", "settings.toml"),
        ("render 531 --voice words -o words/five.wav", "words/five.wav"),
        ("listen music.ogg --pattern 3 --picture s.svg --settings s.svg", "s.svg"),
        ("plan r.toml --picture beats.svg", "beats.svg"),
    ],
)
def test_an_input_is_never_replaced(run: Run, folder: Path, arguments: str, kept: str) -> None:
    words = folder / "words"
    words.mkdir()
    for word in ("five", "three", "one"):
        soundfile.write(words / f"{word}.wav", np.sin(np.arange(8_000) / 5), 24_000)
    if kept == "beats.svg":  # beats may have any name
        Path("beats.txt").rename("beats.svg")
        Path("r.toml").write_text(ROUTINE.replace("beats.txt", "beats.svg"))
    before = Path(kept).read_bytes()
    result = run(*arguments.split(), "--force")
    assert result.exit_code == 2, result.output
    assert "is an input of the same command" in result.output
    assert Path(kept).read_bytes() == before
    assert not list(folder.glob(".throwcount*"))


def test_two_outputs_of_one_name_are_told(run: Run, folder: Path) -> None:
    Path("a.vtt").write_text("")
    Path("b.mid").hardlink_to("a.vtt")
    result = run(*"render 531 -o o.wav --midi b.mid --captions a.vtt --force".split())
    assert (result.exit_code, "an output of the same command" in result.output) == (2, True)
    assert Path("a.vtt").read_text() == ""
    assert folder.is_dir()


@posix
@pytest.mark.parametrize("target", ["pipe", "linked-to-device"])
def test_what_is_no_file_is_never_replaced(run: Run, folder: Path, target: str) -> None:
    Path("linked-to-device").symlink_to("/dev/null")
    os.mkfifo("pipe")
    before = (folder / target).lstat().st_ino
    result = run("render", "531", "-o", "o.wav", "--events", target, "--force")
    assert result.exit_code == 3
    assert "of that name, not a file" in result.stderr
    assert (folder / target).lstat().st_ino == before


INPUTS = [
    ("plan {0}", 1),
    ("heights 531 --settings {0}", 2),
    ("listen music.ogg --against {0}", 1),
    ("listen music.ogg --call {0}", 3),
    ("listen {0}", 3),
    ("plan --estimate {0}", 1),
    ("log --log {0}", 3),
    ("find --words {0}", 2),
    ("plan beats-of-a-pipe.toml", 1),
    ("render music-of-a-pipe.toml -o out.wav", 3),
]


@posix
@pytest.mark.parametrize(
    ("arguments", "status", "place"),
    [
        *((arguments, status, "a-pipe.toml") for arguments, status in INPUTS),
        *((arguments, status, "/dev/zero") for arguments, status in INPUTS[1:4]),
        *((arguments, status, "a-folder.toml") for arguments, status in INPUTS[:6:2]),
    ],
)
def test_what_is_no_file_is_not_read(
    run: Run, folder: Path, arguments: str, status: int, place: str
) -> None:
    """A pipe would block without end, and a device would fill the memory."""
    os.mkfifo("a-pipe.toml")
    (folder / "a-folder.toml").mkdir()
    for kind, name in (("beats", "beats.txt"), ("music", "music.ogg")):
        text = ROUTINE.replace(name, place)
        Path(f"{kind}-of-a-pipe.toml").write_text(text)
    result = run(*arguments.format(place).split())
    told = ("a pipe, not", "a device, not", "a folder, not", "is no")
    assert any(each in result.output for each in told), result.output
    assert result.exit_code == status
    assert "a fault in throwcount" not in result.output


@posix
@pytest.mark.parametrize(
    "arguments",
    ["--help", "--version", "play --help", "check 531", "check 54 --json", "listen no.wav --json"],
)
def test_an_output_that_cannot_be_written_is_told(arguments: str) -> None:
    assert "refused: No space left on device" in to_full(*arguments.split())


@posix
@pytest.mark.parametrize("form", [(), ("--json",), ("--csv",)])
def test_a_full_output_is_not_the_fault_of_the_log(run: Run, form: Sequence[str]) -> None:
    assert run("log").exit_code == 0
    assert "practice log" not in to_full("log", *form)


def to_full(*arguments: str) -> str:
    """Run a command whose output goes to a full device, and return the one line of its errors."""
    command = [sys.executable, "-m", "throwcount.caller", *arguments]
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            command, check=False, stdout=full, stderr=subprocess.PIPE, text=True, timeout=LIMIT
        )
    assert done.returncode == 3, done.stderr
    (line,) = done.stderr.splitlines()
    return line


@pytest.mark.usefixtures("folder")
def test_music_is_an_input_before_it_is_read() -> None:
    """A practice reads it late, when the file for a take has been checked already."""
    with files_of_one_command():
        routine_source(Path("r.toml"), Request(subject="r.toml"))
        with pytest.raises(ClashError):
            check_take(TakeDestination(Path("linked.ogg"), overwrite=True))
