"""Reads keys from a terminal on Linux, macOS and similar systems.

While keys are read, the terminal hands out each one at once and shows none (its *cbreak* mode);
Ctrl-C and Ctrl-Z keep their meaning. The terminal is always given back as it was: at the end,
after an error, at a signal to end, and for as long as the program is suspended.

Keys that come faster than fingers can press them are taken for pasted text, and ignored.
"""

import os
import select
import signal
import sys
import termios
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from types import FrameType
from typing import Any, Final, TypeAlias

from throwcount.caller.terminal.controls import RESUMED, in_front
from throwcount.caller.terminal.key_decoder import PASTE_OFF, PASTE_ON, KeyDecoder

BURST_SECONDS: Final = 0.05
MOST_AT_ONCE: Final = 4
"""So many keys within `BURST_SECONDS` may still be a person's."""

FEW_KINDS: Final = 2
"""So many different keys among them too: one may be held down, and repeat, before the other."""

QUIET_SECONDS: Final = 0.2
"""After a burst, keys count again once none has come for so long."""


class PasteGuard:
    """Lets keys through unless they come in a burst."""

    def __init__(self) -> None:
        self._recent: deque[tuple[float, str]] = deque(maxlen=MOST_AT_ONCE + 1)
        self._blocked = False

    def let_through(self, keys: list[str], moment: float) -> list[str]:
        """Return `keys`, read at `moment` in seconds, or none if no person can be so quick."""
        if keys and self._blocked and moment - self._recent[-1][0] > QUIET_SECONDS:
            self._blocked = False
        for key in keys:
            self._recent.append((moment, key))
            self._blocked = self._blocked or self._is_burst(moment)
        return [] if self._blocked else keys

    def _is_burst(self, moment: float) -> bool:
        return (
            len(self._recent) > MOST_AT_ONCE
            and moment - self._recent[0][0] <= BURST_SECONDS
            and len({key for _, key in self._recent}) > FEW_KINDS
        )


ENDING: Final = (signal.SIGTERM, signal.SIGHUP)
SHELL_STATUS: Final = 128
"""Shells report a program that a signal ended with a status of this and the signal's number."""

Handler: TypeAlias = Callable[[int, FrameType | None], Any]


@contextmanager
def suspension(give_way: Callable[[], None], resume: Callable[[], None]) -> Iterator[None]:
    """Handle signals while the context lasts, if this is the main thread, the one they reach.

    `give_way` is called before Ctrl-Z suspends the program, and `resume` when it goes on.
    """

    def suspend(number: int, _frame: FrameType | None) -> None:
        give_way()
        signal.signal(number, signal.SIG_DFL)
        os.kill(os.getpid(), number)  # The program stops here until it is resumed.
        signal.signal(number, suspend)

    def go_on(_number: int, _frame: FrameType | None) -> None:
        resume()

    with _handling({signal.SIGTSTP: suspend, signal.SIGCONT: go_on}):
        yield


@contextmanager
def ending_in_order() -> Iterator[None]:
    """Let signals to end raise `SystemExit` while the context lasts, if this is the main thread.

    So everything is left in order on the way out.
    """

    def end(number: int, _frame: FrameType | None) -> None:
        for ending in ENDING:
            signal.signal(ending, signal.SIG_IGN)  # A second signal must not disturb the first.
        raise SystemExit(SHELL_STATUS + number)

    with _handling(dict.fromkeys(ENDING, end)):
        yield


@contextmanager
def _handling(handlers: Mapping[signal.Signals, Handler]) -> Iterator[None]:
    """Handle signals while the context lasts; those that were ignored stay ignored."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {number: signal.getsignal(number) for number in handlers}
    ours = [number for number, kept in before.items() if kept is not signal.SIG_IGN]
    try:
        for number in ours:
            signal.signal(number, handlers[number])
        yield
    finally:
        for number in ours:
            signal.signal(number, before[number])


CHUNK: Final = 4096
INPUT_FLAGS, LOCAL_FLAGS = 0, 3
"""Indices in the list of attributes of termios."""


class TerminalKeys:
    """The keys of one terminal; made by `terminal_keys`.

    `terminal` is the file descriptor to read from; None where there is no terminal, so that no key
    ever comes. `clock` returns seconds and never runs backwards.
    """

    def __init__(self, terminal: int | None, clock: Callable[[], float] = time.monotonic) -> None:
        self._terminal = terminal
        self._screen = None if terminal is None else _screen_of(terminal)
        self._clock = clock
        self._decoder = KeyDecoder()
        self._guard = PasteGuard()
        self._before: list[Any] | None = None
        self._taken = False
        self._resumed = False

    def read(self, seconds: float) -> list[str]:
        """Wait for keys, at most `seconds`; return their names, or none when the time is over.

        After a suspension `RESUMED` is the first of them.
        """
        end = self._clock() + seconds
        while True:
            left = max(0.0, end - self._clock())
            keys = self._pressed(left)
            if self._resumed:
                self._resumed = False
                return [RESUMED, *keys]
            if keys or not left:
                return keys

    def take(self) -> None:
        """Make the terminal hand out single keys, unless another program is reading from it."""
        if self._terminal is None or self._taken or not in_front(self._terminal):
            return
        with suppress(termios.error):
            mode = termios.tcgetattr(self._terminal)
            # It is given back in its first mode, whatever others did to it since.
            self._before = self._before or list(mode)
            # Without IXON, Ctrl-S is a key like any other and does not freeze the screen.
            mode[INPUT_FLAGS] &= ~termios.IXON
            mode[LOCAL_FLAGS] &= ~(termios.ICANON | termios.ECHO | termios.IEXTEN)
            termios.tcsetattr(self._terminal, termios.TCSANOW, mode)
            self._taken = True
            self._say(PASTE_ON)

    def give_back(self) -> None:
        """Leave the terminal as it was, and discard keys that nobody has read."""
        if self._terminal is None or not self._taken or not in_front(self._terminal):
            return
        self._taken = False
        with suppress(termios.error):
            self._say(PASTE_OFF)
            termios.tcflush(self._terminal, termios.TCIFLUSH)
            termios.tcsetattr(self._terminal, termios.TCSANOW, self._before or [])

    def resume(self) -> None:
        """Note that the program was suspended: others may have changed the terminal's mode."""
        self._taken = False
        self._resumed = True

    def _pressed(self, seconds: float) -> list[str]:
        """Wait for bytes, or for the end of a key that has begun, and return the keys."""
        deadline = self._decoder.deadline
        if deadline is not None:
            seconds = min(seconds, max(0.0, deadline - self._clock()))
        data = self._bytes(seconds)
        moment = self._clock()
        keys = self._decoder.feed(data, moment) if data else self._decoder.expire(moment)
        return self._guard.let_through(keys, moment)

    def _bytes(self, seconds: float) -> bytes:
        if self._terminal is None or not in_front(self._terminal):
            time.sleep(seconds)  # A program in the background would be stopped for reading.
            return b""
        self.take()
        if not select.select([self._terminal], [], [], seconds)[0]:
            return b""
        try:
            data = os.read(self._terminal, CHUNK)
        except OSError:
            data = b""
        if not data:
            self._terminal = None  # It is gone, and select would call it ready for ever.
        return data

    def _say(self, text: bytes) -> None:
        if self._screen is not None:
            with suppress(OSError):
                os.write(self._screen, text)


@contextmanager
def terminal_keys(
    terminal: int | None, before_suspension: Callable[[], None]
) -> Iterator[TerminalKeys]:
    """Read keys from a terminal while the context lasts; see `screen.reading_keys`."""
    keys = TerminalKeys(terminal)

    def give_way() -> None:
        before_suspension()
        keys.give_back()

    with ending_in_order(), suspension(give_way, keys.resume):
        try:
            keys.take()
            yield keys
        finally:
            keys.give_back()


def _screen_of(terminal: int) -> int | None:
    """Return a file descriptor to write to the same terminal with; None where there is none.

    A terminal that cannot move its cursor is sent nothing.
    """
    if os.environ.get("TERM", "dumb") == "dumb":
        return None
    for stream in filter(None, (sys.__stdout__, sys.__stderr__)):
        with suppress(OSError, ValueError):
            if os.path.samestat(os.fstat(stream.fileno()), os.fstat(terminal)):
                return stream.fileno()
    return None
