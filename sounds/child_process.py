"""Modules run as child processes, and the messages between two processes.

Messages are pickles that go through pipes. Both ends are this program, started by itself, so
nothing from outside is ever unpickled.
"""

import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Final, NoReturn, TextIO, TypeAlias, TypeGuard

Child: TypeAlias = subprocess.Popen[bytes]
"""A process that was started here."""

ROOT: Final = Path(__file__).parents[2]
"""The folder that holds the package `throwcount`."""

PIPE_BYTES: Final = 1 << 20
"""What a pipe holds, on Linux: a word at all its paces goes through at once."""


def child_command(module: str) -> tuple[str, ...]:
    """Return the command that runs `module`.

    ``-P`` keeps a folder in the user's working directory from being taken for one of ours.
    """
    return (sys.executable, "-P", "-m", module)


def child_environment(inherited: Mapping[str, str]) -> dict[str, str]:
    """Return an environment in which the child finds this package and all that its parent finds.

    The folder of this package comes last in the path, as it may hold all other packages as well.
    """
    paths = [*filter(None, [inherited.get("PYTHONPATH")]), str(ROOT)]
    return {**inherited, "PYTHONPATH": os.pathsep.join(paths)}


def started_child(command: Sequence[str]) -> Child:
    """Start a child with pipes to and from it, which Ctrl-C in a terminal does not reach.

    Raises
    ------
    OSError
        If it cannot be started.
    """
    return subprocess.Popen(  # noqa: S603 - our own module, and nothing of the user's in the command
        command,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=child_environment(os.environ),
        start_new_session=True,
        pipesize=PIPE_BYTES,
        creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),  # on Windows
    )


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
    """Do all the work of this process and end it.

    `run` gets the streams that messages come from and go to: standard input and output, which
    nothing else reaches, since sound libraries write hundreds of lines from C.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent.
    orders = os.fdopen(os.dup(sys.stdin.fileno()), "rb")
    reports = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    nowhere = os.open(os.devnull, os.O_RDWR)
    for used in (sys.stdin, sys.stdout, sys.stderr):
        os.dup2(nowhere, used.fileno())
    try:
        run(orders, reports)
    finally:
        os._exit(0)  # Neither a thread nor a library may delay the end.


STDERR: Final = 2
"""File descriptor of standard error."""


@contextmanager
def native_chatter_discarded() -> Iterator[None]:
    """Discard what libraries write to standard error from C.

    ALSA and PortAudio report every device they try and every gap, in hundreds of lines. While this
    lasts, file descriptor 2 leads nowhere; Python's own `sys.stderr` still reaches the screen.
    """
    try:
        kept = os.dup(STDERR)
    except OSError:  # There is no standard error.
        yield
        return
    python_stderr = sys.stderr
    seen = None
    if _writes_to_stderr(python_stderr):
        python_stderr.flush()
        encoding, errors = python_stderr.encoding, python_stderr.errors
        seen = os.fdopen(os.dup(kept), "w", buffering=1, encoding=encoding, errors=errors)
        sys.stderr = seen
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, STDERR)
    os.close(nowhere)
    try:
        yield
    finally:
        os.dup2(kept, STDERR)
        os.close(kept)
        if seen is not None:
            sys.stderr = python_stderr
            seen.close()


def _writes_to_stderr(stream: TextIO | None) -> TypeGuard[TextIO]:
    """Return whether a Python stream writes to file descriptor 2."""
    if stream is None:
        return False
    try:
        return stream.fileno() == STDERR
    except OSError:  # A stream in memory.
        return False
