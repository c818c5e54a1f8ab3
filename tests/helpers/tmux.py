"""A terminal of a given size, driven as a person would, through tmux on a server of its own."""

import os
import secrets
import subprocess
from collections.abc import Mapping

from waiting import LIMIT, wait_until


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
        shown = ""

        def is_shown() -> bool:
            nonlocal shown
            shown = self.text()
            return fragment in shown

        wait_until(is_shown, lambda: f"no {fragment!r} in:\n{shown}", every=0.05)
        return shown

    def wait_for_shell(self) -> None:
        """Wait until no program runs in the shell any more."""
        wait_until(lambda: self._running() == "bash", lambda: f"{self._running()} still runs")

    def close(self) -> None:
        """End it, with all that runs in it."""
        self._tmux("kill-server")

    def _running(self) -> str:
        return self._tmux("display-message", "-p", "#{pane_current_command}").strip()

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
