"""A terminal of a given size, driven as a person would, through tmux on a server of its own."""

import os
import secrets
import subprocess
import time
from collections.abc import Mapping

LIMIT = 20.0


class Tmux:
    """A terminal in which a shell runs.

    Parameters
    ----------
    columns, rows
        Its size.
    environment
        Variables that the shell has beside the usual ones.
    """

    def __init__(self, columns: int, rows: int, environment: Mapping[str, str]) -> None:
        self._name = f"throwcount-{secrets.token_hex(4)}"
        self._environment = os.environ | environment | {"PS1": "$ "}
        self._environment.pop("TMUX", None)
        for variable in ("COLUMNS", "LINES", "NO_COLOR"):
            self._environment.pop(variable, None)
        size = ("-x", str(columns), "-y", str(rows))
        self._tmux("-f", "/dev/null", "new-session", "-d", *size, "bash --norc --noprofile")

    def type(self, text: str) -> None:
        """Type a line, and Enter."""
        self._tmux("send-keys", "-l", text)
        self._tmux("send-keys", "Enter")

    def press(self, *names: str) -> None:
        """Press keys, by the names that tmux has for them."""
        self._tmux("send-keys", *names)

    def paste(self, text: str, *, marked: bool) -> None:
        """Paste a text; marked as pasted, if the program asked for that."""
        self._tmux("set-buffer", text)
        self._tmux("paste-buffer", *(["-p"] if marked else []))

    def text(self, *, styled: bool = False) -> str:
        """Return what the screen shows."""
        return self._tmux("capture-pane", "-p", *(["-e"] if styled else []))

    def wait_for(self, fragment: str) -> str:
        """Wait until the screen shows a text, and return all it shows."""
        deadline = time.monotonic() + LIMIT
        while fragment not in (shown := self.text()):
            assert time.monotonic() < deadline, f"no {fragment!r} in:\n{shown}"
            time.sleep(0.05)
        return shown

    def close(self) -> None:
        """End it, with all that runs in it."""
        self._tmux("kill-server")

    def _tmux(self, *arguments: str) -> str:
        done = subprocess.run(
            ("tmux", "-L", self._name, *arguments),
            env=self._environment,
            capture_output=True,
            text=True,
            check=True,
            timeout=LIMIT,
        )
        return done.stdout
