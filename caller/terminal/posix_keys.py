"""Keys from a terminal on Linux, macOS and their kin.

While they are read, the terminal hands out every key at once and shows none (its *cbreak* mode);
Ctrl-C and Ctrl-Z keep their meaning. However that ends, the terminal is given back as it was: at
the end, after an error, at a signal to end, and for as long as the program is suspended.

Keys that come faster than fingers are text pasted into a terminal that does not say so.

The system ends, suspends or resumes the program, and nothing is left in disorder.
"""

import os
import select
import signal
import sys
import termios
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import Any, Final, TypeAlias

from throwcount.caller.terminal.controls import RESUMED, in_front
from throwcount.caller.terminal.key_decoder import PASTE_OFF, PASTE_ON, KeyDecoder

BURST_SECONDS: Final = 0.05
MOST_AT_ONCE: Final = 4
"""So many keys within `BURST_SECONDS` are still taken for a person's."""

FEW_KINDS: Final = 2
"""So many different ones among them too: one may be held down, and repeat, before the other."""

QUIET_SECONDS: Final = 0.2
"""After a burst, keys count again once nothing has come for so long."""


class PasteGuard:
    """Lets keys through, but not a burst."""

    def __init__(self) -> None:
        self._recent: deque[tuple[float, str]] = deque(maxlen=MOST_AT_ONCE + 1)
        self._blocked = False

    def let_through(self, keys: list[str], moment: float) -> list[str]:
        """Return `keys`, read at `moment` in seconds, or none if no person was so quick."""
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
"""Shells tell that a signal ended a program by a status of its number and this."""

Handler: TypeAlias = Callable[[int, FrameType | None], Any]


@contextmanager
def suspension(give_way: Callable[[], None], resume: Callable[[], None]) -> Iterator[None]:
    """Handle signals while the context lasts, if this is the main thread, which they reach.

    A signal to end raises `SystemExit`, so that everything is left in order on the way out.

    `give_way` is called before the program is suspended by Ctrl-Z. `resume` is called when it goes
    on.
    """

    def end(number: int, _frame: FrameType | None) -> None:
        for ending in ENDING:
            signal.signal(ending, signal.SIG_IGN)  # Asking twice must not disturb it.
        raise SystemExit(SHELL_STATUS + number)

    def suspend(number: int, _frame: FrameType | None) -> None:
        give_way()
        signal.signal(number, signal.SIG_DFL)
        os.kill(os.getpid(), number)  # Here it stands still until it may go on.
        signal.signal(number, suspend)

    handlers: dict[signal.Signals, Handler] = dict.fromkeys(ENDING, end)
    handlers[signal.SIGTSTP] = suspend
    handlers[signal.SIGCONT] = lambda _number, _frame: resume()
    with _handling(handlers):
        yield


@contextmanager
def _handling(handlers: dict[signal.Signals, Handler]) -> Iterator[None]:
    """Handle signals while the context lasts; those that are ignored stay so."""
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
"""Places in what termios hands out."""


class TerminalKeys:
    """The keys of one terminal; made by `terminal_keys`.

    `terminal` is the file descriptor to read from; None where there is no terminal, and so no key
    ever comes. `clock` counts seconds and never runs backwards.
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
        """Wait for keys, at most `seconds`; return their names, none when the time is over.

        After a suspension `RESUMED` stands among them.
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
        """Let the terminal hand out single keys, unless others are reading from it."""
        if self._terminal is None or self._taken or not in_front(self._terminal):
            return
        with suppress(termios.error):
            mode = termios.tcgetattr(self._terminal)
            # What it was at first is what it is given back as, whoever had it in between.
            self._before = self._before or list(mode)
            # Without IXON, Ctrl-S is a key like others and does not freeze the screen.
            mode[INPUT_FLAGS] &= ~termios.IXON
            mode[LOCAL_FLAGS] &= ~(termios.ICANON | termios.ECHO | termios.IEXTEN)
            termios.tcsetattr(self._terminal, termios.TCSANOW, mode)
            self._taken = True
            self._say(PASTE_ON)

    def give_back(self) -> None:
        """Leave the terminal as it was; what was typed ahead is not for whoever reads next."""
        if self._terminal is None or not self._taken or not in_front(self._terminal):
            return
        self._taken = False
        with suppress(termios.error):
            self._say(PASTE_OFF)
            termios.tcflush(self._terminal, termios.TCIFLUSH)
            termios.tcsetattr(self._terminal, termios.TCSANOW, self._before or [])

    def resume(self) -> None:
        """Know that the program was suspended: others may have set up the terminal anew."""
        self._taken = False
        self._resumed = True

    def _pressed(self, seconds: float) -> list[str]:
        """Wait for bytes or for the end of a key that is begun, and return the keys."""
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
            self._terminal = None  # It is gone, and would be ready for ever.
        return data

    def _say(self, text: bytes) -> None:
        if self._screen is not None:
            with suppress(OSError):
                os.write(self._screen, text)


@contextmanager
def terminal_keys(
    terminal: int | None, before_suspension: Callable[[], None]
) -> Iterator[TerminalKeys]:
    """Read keys from a terminal while the context lasts; parameters as those of `reading_keys`."""
    keys = TerminalKeys(terminal)

    def give_way() -> None:
        before_suspension()
        keys.give_back()

    with suspension(give_way, keys.resume):
        try:
            keys.take()
            yield keys
        finally:
            keys.give_back()


def _screen_of(terminal: int) -> int | None:
    """Return a file descriptor to write to the same terminal with; None where there is none.

    A terminal that cannot even move its cursor is not asked for anything.
    """
    if os.environ.get("TERM", "dumb") == "dumb":
        return None
    for stream in filter(None, (sys.__stdout__, sys.__stderr__)):
        with suppress(OSError, ValueError):
            if os.path.samestat(os.fstat(stream.fileno()), os.fstat(terminal)):
                return stream.fileno()
    return None
