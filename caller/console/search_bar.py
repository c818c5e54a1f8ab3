"""A bar for a search that may be over at once or take for ever."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from engine.finding.watch import Watch


PATIENCE: Final = 1.0
"""Seconds before a bar is shown."""

PAUSE: Final = 0.1
"""Seconds from one look at the search to the next."""


@contextmanager
def search_bar(title: str, clock: Callable[[], float] = monotonic) -> "Iterator[Watch]":
    """Show a bar on standard error, if someone can see it and the search takes a while.

    `title` is what is being done. `clock` tells the time in seconds.

    Yields
    ------
    Callable[[float], None]
        To be called with the share that is done, 0 to 1.
    """
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    from engine.finding.watch import unwatched

    screen = Console(stderr=True, markup=False)
    if not screen.is_terminal:
        yield unwatched
        return
    # What is written to a terminal goes above the bar; what is piped must not be touched.
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.percentage:>5.1f} %"),
        TimeElapsedColumn(),
        console=screen,
        transient=True,
        redirect_stdout=sys.stdout.isatty(),
        redirect_stderr=False,
    )
    task = bar.add_task(title, total=1.0)
    due = clock() + PATIENCE

    def watch(share: float) -> None:
        nonlocal due
        now = clock()
        if now >= due:
            bar.start()
            bar.update(task, completed=share)
            due = now + PAUSE

    try:
        yield watch
    finally:
        bar.stop()
