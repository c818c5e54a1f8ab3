"""The program in a process of its own, with a terminal to press keys on."""

import os
import pty
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from pathlib import Path

from waiting import LIMIT, wait_until

CLEAN, DROP, FASTER, STOP, PEDAL = b"c", b"\x1b[5~", b"\x1b[A", b"q", b"\x1b[6~"


PROGRAM = (sys.executable, "-m", "throwcount.caller")


class KeyedPractice:
    """A practice with a terminal to press keys on; what it shows comes line by line.

    Parameters
    ----------
    environment
        Of the process.
    arguments
        What is typed after ``throwcount``.
    program
        The command that starts the program.
    folder
        Where it starts; here if None.
    """

    def __init__(
        self,
        environment: Mapping[str, str],
        arguments: str,
        program: Sequence[str] = PROGRAM,
        folder: Path | None = None,
    ) -> None:
        self._keyboard, terminal = pty.openpty()
        self.shown: list[str] = []
        self._process = subprocess.Popen(
            (*program, *arguments.split()),
            cwd=folder,
            env=environment,
            stdin=terminal,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            bufsize=1,
        )
        os.close(terminal)
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        self.shown.extend(self._process.stdout)

    def shows(self, fragment: str) -> bool:
        return any(fragment in line for line in self.shown)

    def wait_for(self, fragment: str) -> None:
        wait_until(
            lambda: self.shows(fragment),
            lambda: f"no {fragment!r} in {''.join(self.shown)}",
        )

    def has_ended(self) -> bool:
        return self._process.poll() is not None

    def press(self, key: bytes) -> None:
        os.write(self._keyboard, key)

    def send(self, number: int) -> None:
        self._process.send_signal(number)

    def kill(self) -> None:
        self._process.kill()

    def end(self) -> int:
        """Wait for its end, and return its status."""
        status = self._process.wait(LIMIT)
        self._reader.join(LIMIT)
        return status

    def close(self) -> None:
        self._process.kill()
        self._process.wait(LIMIT)
        self._reader.join(LIMIT)
        assert self._process.stdout is not None
        self._process.stdout.close()
        os.close(self._keyboard)
