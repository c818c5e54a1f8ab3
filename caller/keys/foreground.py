"""Whether a terminal is this program's to use, or it runs in the background."""

import os


def in_front(terminal: int) -> bool:
    """Return whether the program that a terminal serves just now is this one.

    `terminal` is its file descriptor.
    """
    if not hasattr(os, "tcgetpgrp"):  # Windows has no such thing.
        return True
    try:
        return os.tcgetpgrp(terminal) == os.getpgrp()
    except OSError:  # It is not the terminal that starts and stops this program.
        return True
