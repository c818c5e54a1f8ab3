"""A progress bar for what takes more than a moment, on standard error, if someone can see it."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress(title: str, total: int | None) -> Iterator[Callable[[int], None]]:
    """Show a bar while the context lasts.

    `title` is what is being done. `total` is how much there is to do; None where that is not known.

    Yields
    ------
    Callable[[int], None]
        To be called with how much more has been done.
    """
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        Progress,
        TaskProgressColumn,
        TextColumn,
        TimeRemainingColumn,
    )

    screen = Console(stderr=True, markup=False)
    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn())
    with Progress(
        *columns,
        TimeRemainingColumn(),
        console=screen,
        transient=True,
        redirect_stdout=False,  # or what is piped would end up on the terminal
        disable=not screen.is_terminal,
    ) as bar:
        task = bar.add_task(title, total=total)
        yield lambda done: bar.advance(task, done)
