"""Reading keys, whatever the system and whether or not there is anything to read them from."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Protocol


class Keys(Protocol):
    """Where keys come from."""

    def read(self, seconds: float) -> list[str]:
        """Wait for keys, at most `seconds`; return their names, none when the time is over."""


class NoKeys:
    """No keyboard at all."""

    def read(self, seconds: float) -> list[str]:
        """Wait; there are no keys."""
        time.sleep(seconds)
        return []


def can_read_keys() -> bool:
    """Return whether standard input is a terminal, so that keys can be pressed."""
    return sys.stdin is not None and sys.stdin.isatty()


@contextmanager
def reading_keys(before_suspension: Callable[[], None] = lambda: None) -> Iterator[Keys]:
    """Read keys from standard input while the context lasts; none where it is no terminal.

    To be used in the main thread, the only one that signals reach.

    `before_suspension` is called when the program is about to be suspended, to clear the screen.

    Yields
    ------
    Keys
        The names are those of `caller.keys.names`. After a suspension `RESUMED` is among them.
    """
    if sys.platform == "win32":
        from caller.keys.windows import ConsoleKeys  # only there

        yield ConsoleKeys() if can_read_keys() else NoKeys()
    else:
        from caller.keys.posix import terminal_keys  # only there

        terminal = sys.stdin.fileno() if can_read_keys() else None
        with terminal_keys(terminal, before_suspension) as keys:
            yield keys
