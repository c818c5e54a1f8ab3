"""Messages between two processes of this program: pickles that go through pipes.

Both ends are this program and started by it, so that nothing from outside is ever unpickled.
"""

import os
import pickle
import signal
import sys
from collections.abc import Callable
from typing import IO, NoReturn


def write_message(stream: IO[bytes], message: object) -> None:
    """Write one message at once."""
    pickle.dump(message, stream, protocol=pickle.HIGHEST_PROTOCOL)
    stream.flush()


def read_message(stream: IO[bytes]) -> object:
    """Wait for the next message and return it.

    Raises
    ------
    EOFError
        If the other process has ended.
    """
    try:
        return pickle.load(stream)  # noqa: S301 - written by the other half of this program
    except (pickle.UnpicklingError, OSError, ValueError) as error:  # cut off, or closed
        raise EOFError from error


def run_between_pipes(run: Callable[[IO[bytes], IO[bytes]], None]) -> NoReturn:
    """Run all that this process does, between standard input and output, and end it.

    Nothing else gets at the two: libraries for sound write hundreds of lines from C.

    Parameters
    ----------
    run
        Is given where messages come from, and where they go.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that conducts.
    orders = os.fdopen(os.dup(sys.stdin.fileno()), "rb")
    reports = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    nowhere = os.open(os.devnull, os.O_RDWR)
    for used in (sys.stdin, sys.stdout, sys.stderr):
        os.dup2(nowhere, used.fileno())
    try:
        run(orders, reports)
    finally:
        os._exit(0)  # Neither a thread nor a library may hold it up.
