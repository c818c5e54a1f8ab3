"""The system ends, suspends or resumes the program, and nothing is left in disorder."""

import os
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any, Final, TypeAlias

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
