"""Whatever goes wrong becomes a plain sentence on standard error and a status.

What is suggested for a name that was mistyped.
"""

import errno
import os
import signal
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from waiting import LIMIT

from throwcount.caller.main import plain_errors, throwcount
from throwcount.caller.terminal.text import (
    TRACEBACK_VARIABLE,
    OutsideError,
    WrongInputError,
    near,
    printable,
    visible,
)
from throwcount.engine.errors import EngineError, MalformedError, TempoError
from throwcount.sounds.errors import DeviceError, SoundError


def failing(error: BaseException) -> click.Command:
    @click.command
    def command() -> None:
        with plain_errors():
            raise error

    return command


@pytest.mark.parametrize(
    ("error", "status", "sentence"),
    [
        (WrongInputError("This is wrong."), 1, "This is wrong.\n"),
        (OutsideError("That failed."), 3, "That failed.\n"),
        (EngineError("No such thing."), 1, "No such thing.\n"),
        (MalformedError("No pattern.", (2,)), 1, "No pattern.\n"),
        (TempoError("Too fast."), 1, "Too fast.\n"),
        (SoundError("Silent."), 3, "Silent.\n"),
        (DeviceError("No device."), 3, "No device.\n"),
        (OSError(errno.ENOSPC, "No space left on device"), 3, "No space left on device.\n"),
        (PermissionError(errno.EACCES, "Permission denied", "a.wav"), 3, "denied (a.wav).\n"),
        (OSError("something odd"), 3, "something odd.\n"),
        (KeyError("x"), 3, "a fault in throwcount"),
        (KeyboardInterrupt(), 130, ""),
        (click.UsageError("Not so."), 2, "Not so.\n"),
    ],
)
def test_error_to_sentence_and_status(error: BaseException, status: int, sentence: str) -> None:
    result = CliRunner().invoke(failing(error))
    assert (result.exit_code, result.stdout) == (status, "")
    assert sentence in result.stderr
    assert "Traceback" not in result.stderr


def test_a_fault_shows_where_it_is_on_request(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(TRACEBACK_VARIABLE, "1")
    result = CliRunner().invoke(failing(KeyError("x")))
    assert isinstance(result.exception, KeyError)


def run_python(code: str, **options: object) -> "subprocess.CompletedProcess[str]":
    arguments = {"capture_output": True, "text": True, "timeout": LIMIT, **options}
    return subprocess.run([sys.executable, "-c", code], check=False, **arguments)  # type: ignore[call-overload, no-any-return]


CHECK = (
    "from throwcount.caller.main import throwcount; "
    "throwcount(['check', '531'], prog_name='throwcount')"
)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("flag", ["", ", '--json'"])
def test_a_full_disk_ends_with_3(flag: str) -> None:
    with Path("/dev/full").open("w") as full:
        done = run_python(
            CHECK.replace("'531'", f"'531'{flag}"),
            capture_output=False,
            stdout=full,
            stderr=subprocess.PIPE,
        )
    assert done.returncode == 3
    assert done.stderr == f"The system refused: {os.strerror(errno.ENOSPC)}.\n"


def test_a_reader_that_leaves_early_is_no_error() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = run_python(CHECK, capture_output=False, stdout=writing, stderr=subprocess.PIPE)
    finally:
        os.close(writing)
    assert (done.returncode, done.stderr) == (0, "")


def test_closed_standard_output_is_no_error() -> None:
    done = run_python(f"import os, sys; os.close(1); sys.stdout = None; {CHECK}")
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.skipif(os.name == "nt", reason="needs POSIX signals")
def test_an_interrupt_ends_with_130_and_without_a_word() -> None:
    code = (
        "import click, os, signal, time\n"
        "from throwcount.caller.main import plain_errors\n"
        "@click.command\n"
        "def command():\n"
        "    with plain_errors():\n"
        f"        os.kill(os.getpid(), {int(signal.SIGINT)})\n"
        "        time.sleep(10)\n"
        "command()"
    )
    done = run_python(code)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")


@pytest.mark.parametrize(
    ("text", "known", "told"),
    [
        ("tempi", ("tempo", "props"), " Did you mean 'tempo'?"),
        ("TEMPO", ("tempo", "props"), " Did you mean 'tempo'?"),
        ("the wel", ("The Well", "The Green"), " Did you mean 'The Well'?"),
        ("usb microfone", ("Built-in Audio", "USB Microphone"), " Did you mean 'USB Microphone'?"),
        ("wel", ("The Well", "The Green"), " Did you mean 'The Well'?"),
        ("he", ("The Well", "The Green"), ""),
        ("rhythm", ("tempo", "props"), ""),
        ("", ("tempo",), ""),
        ("tempo", (), ""),
    ],
)
def test_a_near_miss(text: str, known: tuple[str, ...], told: str) -> None:
    assert near(text, known) == told


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("531\n\tas usual, é ש ع 🤹", "531\n\tas usual, é ש ع 🤹"),
        ("\x1b[31mred\x1b]0;title\x07", "\\x1b[31mred\\x1b]0;title\\x07"),
        ("over\rwritten\b\x7f\x00", "over\\x0dwritten\\x08\\x7f\\x00"),
        ("\x9b31m", "\\x9b31m"),
        ("gpj\u202e.toml\u2066x\u2069", "gpj\\u202e.toml\\u2066x\\u2069"),
    ],
)
def test_what_a_terminal_would_obey_is_made_visible(text: str, shown: str) -> None:
    assert printable(text) == visible(text) == shown


@pytest.mark.parametrize("arguments", [["--\x1b[2J"], ["\x1b[2J"], ["check", "3", "--\x9bm"]])
def test_a_wrong_command_line_is_told_without_what_a_terminal_would_obey(
    arguments: list[str],
) -> None:
    result = CliRunner().invoke(throwcount, arguments)
    assert result.exit_code == 2
    assert not {"\x1b", "\x9b"} & set(result.output)
