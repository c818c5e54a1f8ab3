"""Waiting for what other processes and threads do."""

import time
from collections.abc import Callable
from typing import TypeVar

Found = TypeVar("Found")

LIMIT = 120.0
"""Seconds after which something is held to hang. How quick a machine is, is not judged."""


def wait_until(
    condition: Callable[[], Found],
    otherwise: Callable[[], str] = lambda: "what was waited for did not come about",
    every: float = 0.02,
    limit: float = LIMIT,
) -> Found:
    """Look again and again until a condition holds, and return what it gave then.

    Parameters
    ----------
    condition
        Gives something true when it holds.
    otherwise
        Gives what is told where that never comes about.
    every
        Seconds between two looks.
    limit
        Seconds after which it is given up.

    Raises
    ------
    AssertionError
        If it does not hold within `limit` seconds.
    """
    end = time.monotonic() + limit
    while not (found := condition()):
        assert time.monotonic() < end, otherwise()
        time.sleep(every)
    return found
