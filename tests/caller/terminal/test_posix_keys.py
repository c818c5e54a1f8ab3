"""Keys from real terminals, which are given back as they were."""

import os
import select
import shlex
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import key_logger
import pytest
from tmux import Tmux
from waiting import LIMIT, wait_until

from throwcount.caller.terminal.key_decoder import PASTE_BEGINS, PASTE_ENDS, PASTE_OFF, PASTE_ON

termios = pytest.importorskip("termios", reason="this system has no terminals of this kind")
from throwcount.caller.terminal.posix_keys import TerminalKeys  # noqa: E402 - only where there are such terminals

LOCAL_FLAGS = 3
A_MOMENT = 0.02
"""Seconds for which a key that does not come is waited for."""

BURST_SECONDS = 0.05
QUIET_SECONDS = 0.2
"""What comes quicker than a person types is taken for pasted, until nothing comes for so long."""


class Logger:
    """The program that logs keys, on a terminal of its own."""

    def __init__(self, folder: Path) -> None:
        self.master, self.slave = os.openpty()
        self.before = termios.tcgetattr(self.slave)
        self.log = folder / "keys"
        self.process = subprocess.Popen(
            (sys.executable, key_logger.__file__, str(self.log), str(LIMIT)),
            stdin=self.slave,
            stdout=self.slave,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
            env=os.environ | {"TERM": "xterm"},
        )
        self.wait_for("ready")

    def keys(self) -> list[str]:
        return self.log.read_text("utf-8").split("\n")[1:-1] if self.log.exists() else []

    def wait_for(self, name: str) -> None:
        wait_until(lambda: self.log.exists() and name in self.log.read_text("utf-8").split())

    def mode(self) -> list[Any]:
        return termios.tcgetattr(self.slave)

    def written(self) -> bytes:
        """Return what the program has written to its terminal."""
        found = b""
        while select.select([self.master], [], [], A_MOMENT)[0]:
            found += os.read(self.master, 4096)
        return found


@pytest.fixture
def logger(tmp_path: Path) -> Iterator[Logger]:
    running = Logger(tmp_path)
    yield running
    running.process.kill()
    running.process.wait()
    os.close(running.master)
    os.close(running.slave)


def test_single_keys_pedals_and_pastes(logger: Logger) -> None:
    assert not logger.mode()[LOCAL_FLAGS] & (termios.ICANON | termios.ECHO)
    assert logger.mode()[LOCAL_FLAGS] & termios.ISIG
    sent = (b" ", b"\x1b[5~", b"\x1b[6~", b"\x1bOA", b"\x1b", "\u00e9".encode(), b"\x13", b"\x04")
    for index, data in enumerate(sent, start=1):
        os.write(logger.master, data)
        wait_until(lambda wanted=index: len(logger.keys()) == wanted)
        time.sleep(BURST_SECONDS)  # as a person does
    names = ["space", "page-up", "page-down", "up", "escape", "\u00e9", "ctrl-s", "ctrl-d"]
    assert logger.keys() == names
    os.write(logger.master, PASTE_BEGINS + b"qqqx\r" * 2000 + PASTE_ENDS)
    os.write(logger.master, b"a")
    logger.wait_for("a")
    time.sleep(1.5 * QUIET_SECONDS)  # what the program reads is judged by when it comes
    os.write(logger.master, b"rm -r * xq\r")  # pasted, but not marked as such
    time.sleep(1.5 * QUIET_SECONDS)
    os.write(logger.master, b"b")
    logger.wait_for("b")
    assert logger.keys() == [*names, "a", "b"]


@pytest.mark.parametrize(
    ("end", "status"),
    [
        (lambda logger: os.write(logger.master, b"q"), 0),
        (lambda logger: os.write(logger.master, b"x"), 1),
        (lambda logger: os.write(logger.master, b"\x03"), -signal.SIGINT),
        (lambda logger: logger.process.terminate(), 128 + signal.SIGTERM),
        (lambda logger: logger.process.send_signal(signal.SIGHUP), 128 + signal.SIGHUP),
    ],
    ids=["as usual", "error", "Ctrl-C", "SIGTERM", "SIGHUP"],
)
def test_the_terminal_is_given_back(
    logger: Logger, end: Callable[[Logger], object], status: int
) -> None:
    assert logger.mode() != logger.before
    assert logger.written() == PASTE_ON
    end(logger)
    assert logger.process.wait(LIMIT) == status
    assert logger.mode() == logger.before
    assert logger.written().replace(b"^C", b"") == PASTE_OFF


def test_what_was_typed_ahead_is_not_left_for_the_shell(logger: Logger) -> None:
    os.write(logger.master, b"q")
    logger.process.wait(LIMIT)
    os.set_blocking(logger.slave, False)
    with pytest.raises(BlockingIOError):
        os.read(logger.slave, 100)


def test_a_terminal_that_goes_away(tmp_path: Path) -> None:
    logger = Logger(tmp_path)
    os.close(logger.slave)
    os.close(logger.master)
    assert logger.process.wait(LIMIT) == 128 + signal.SIGHUP


@pytest.fixture
def terminal() -> Iterator[tuple[int, int]]:
    """A terminal without a program: where its screen and keyboard end, and the program's side."""
    master, slave = os.openpty()
    yield master, slave
    os.close(slave)


def test_a_terminal_at_its_end_is_not_read_without_a_rest(
    terminal: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    master, slave = terminal
    time_passed = PassingTime()
    keys = TerminalKeys(slave, clock=time_passed.clock)
    keys.take()
    os.write(master, b"a")
    assert keys.read(LIMIT) == ["a"]
    os.close(master)
    monkeypatch.setattr(time, "sleep", time_passed.sleep)
    for _ in range(10):
        assert keys.read(A_MOMENT) == []
    # Each time is slept through at once, and a last look at its end does not wait.
    assert sum(time_passed.slept) == pytest.approx(10 * A_MOMENT)
    assert len(time_passed.slept) <= 20


class PassingTime:
    """A clock that goes on by what is slept, and by nothing else."""

    def __init__(self) -> None:
        self.slept: list[float] = []

    def clock(self) -> float:
        return sum(self.slept)

    def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)


def test_waiting_ends_with_a_key_or_in_time(
    terminal: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    master, slave = terminal
    time_passed, select_now = PassingTime(), select.select
    keys = TerminalKeys(slave, clock=time_passed.clock)
    keys.take()

    def waited(read: list[int], write: list[int], fail: list[int], seconds: float) -> Any:  # noqa: ANN401 - as select has it
        found = select_now(read, write, fail, seconds)
        if not found[0]:
            time_passed.sleep(seconds)
        return found

    monkeypatch.setattr(select, "select", waited)
    assert keys.read(A_MOMENT) == []
    assert time_passed.slept == [A_MOMENT, 0.0]
    os.write(master, b"\x1b")
    assert keys.read(LIMIT) == ["escape"]
    os.write(master, b"n\x1b[C")
    assert keys.read(LIMIT) == ["n", "right"]
    assert time_passed.clock() < LIMIT / 2
    os.close(master)


@pytest.mark.parametrize("redirection", ["</dev/null", "<&-", "< <(echo qx)", "< <(sleep 5)"])
def test_standard_input_that_is_no_terminal(redirection: str, tmp_path: Path) -> None:
    log = tmp_path / "keys"
    command = shlex.join([sys.executable, key_logger.__file__, str(log), "0.5"])
    subprocess.run(("bash", "-c", f"exec {command} {redirection}"), check=True, timeout=LIMIT)
    ready, seconds = log.read_text("utf-8").split()
    assert ready == "ready"
    busy = subprocess.run(
        (
            sys.executable,
            "-c",
            "import throwcount.caller.terminal.screen, time; print(time.process_time())",
        ),
        capture_output=True,
        text=True,
        check=True,
    )
    assert float(seconds) < float(busy.stdout) + 0.25


def test_a_person_in_tmux(require: Callable[[object, str], None], tmp_path: Path) -> None:
    """Pedals, pastes, a program that is suspended and goes on, and a shell that is as it was."""
    require(shutil.which("tmux"), "no tmux on this machine")
    log = tmp_path / "keys"
    tmux = Tmux(80, 24, {})
    try:
        tmux.type(shlex.join([sys.executable, key_logger.__file__, str(log), str(LIMIT)]))
        wait_until(log.exists)
        wait_until(lambda: "ready" in log.read_text("utf-8"))
        for name in ("PPage", "NPage", "Up", "Home", "End", "F5", "Escape", "Space"):
            before = log.read_text("utf-8")
            tmux.press(name)
            wait_until(lambda before=before: log.read_text("utf-8") != before)
            time.sleep(BURST_SECONDS)  # as a person does
        tmux.paste("qx stop\n", marked=True)
        tmux.paste("rm -r qx\n", marked=False)
        time.sleep(2 * QUIET_SECONDS)  # so that it is over, and the keys that follow count
        tmux.press("C-z")
        tmux.wait_for("Stopped")
        tmux.type("stty -a | tr ' ' '\\n' | grep -xE -- '-?(icanon|echo|ixon)' | tr '\\n' ' '")
        tmux.wait_for("ixon icanon echo")
        tmux.type("fg")
        wait_until(lambda: "resumed" in log.read_text("utf-8"))
        tmux.press("Left")
        wait_until(lambda: "left" in log.read_text("utf-8"))
        tmux.press("q")
        tmux.wait_for_shell()
        tmux.type("echo done: $?")
        tmux.wait_for("done: 0")
    finally:
        tmux.close()
    names = ["page-up", "page-down", "up", "home", "end", "f5", "escape", "space"]
    assert log.read_text("utf-8").split() == ["ready", *names, "resumed", "left", "q"]
