"""How a module of this package is started as a process of its own."""

import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parent.parent


def child_command(module: str) -> tuple[str, ...]:
    """Return the command that runs `module`.

    ``-P``: a folder named like one of ours where the user happens to be is not ours.
    """
    return (sys.executable, "-P", "-m", module)


def child_environment(inherited: Mapping[str, str]) -> dict[str, str]:
    """Return an environment in which the child finds this package, and all else as its parent does.

    This package comes last: it may lie beside every other one that is installed.
    """
    paths = [*filter(None, [inherited.get("PYTHONPATH")]), str(ROOT)]
    return {**inherited, "PYTHONPATH": os.pathsep.join(paths)}


def started_child(command: Sequence[str]) -> "subprocess.Popen[bytes]":
    """Start a child that is spoken with through pipes, where Ctrl-C in a terminal misses it.

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
        creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),  # on Windows
    )
