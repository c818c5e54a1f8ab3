"""What a person sees: plain text that fits the terminal, with colour only where it is welcome.

Nothing is lost where colour is off or where the terminal knows few signs: colour is never the
only mark of anything, and lines have an ASCII form.

A progress bar for what takes more than a moment, on standard error, if someone can see it.

A bar for a search that may be over at once or take for ever.
"""

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from time import monotonic
from typing import TYPE_CHECKING, Any, Final, TypeAlias, TypeVar

import click

from throwcount.caller.terminal.text import (
    OutsideError,
    PlainError,
    folded,
    printable,
    terminal_size,
)
from throwcount.sounds.errors import DeviceError

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.table import Table

    from throwcount.engine.search.walks import Watch

Told = TypeVar("Told", bound=PlainError)

LONGEST_TEXT: Final = 60
LONGEST_LIST: Final = 12


def console() -> "Console":
    """Return a console for standard output that takes every text literally."""
    from rich.console import Console  # slow, and sentences do without

    width, height = terminal_size()
    return Console(
        width=width,
        height=height,
        markup=False,
        highlight=False,
        emoji=False,
        legacy_windows=False,
    )


def show(*parts: "RenderableType") -> None:
    """Write `parts` one after another on standard output."""
    screen = console()
    with screen.capture() as captured:
        for part in parts:
            screen.print(part)
    lines = (line.rstrip() for line in printable(captured.get()).splitlines())
    click.echo("\n".join(lines), color=screen.color_system is not None)


def tell(*sentences: str, errors: bool = False) -> None:
    """Write sentences, each on lines of its own, on standard output or standard error."""
    for sentence in sentences:
        click.echo(folded(printable(sentence, errors=errors), errors=errors), err=errors)


def show_json(document: Mapping[str, Any]) -> None:
    """Write one JSON document on standard output."""
    import json  # most output is for people

    click.echo(json.dumps(document))


@contextmanager
def told_in_json(
    kind: type[Told], document: Callable[[Told], Mapping[str, Any]], *, as_json: bool
) -> Iterator[None]:
    """Show an error that is raised inside as the one JSON document, where that is asked for.

    `document` returns what the JSON is to hold of one. `as_json` says whether JSON is asked for;
    else the error goes on as it comes, for a person.

    Raises
    ------
    click.exceptions.Exit
        With the same status, when the JSON has told everything.
    """
    try:
        yield
    except kind as error:
        if not as_json:
            raise
        show_json(document(error))
        raise click.exceptions.Exit(kind.exit_code) from error


def table(*headings: str, numbers: Sequence[str] = ()) -> "Table":
    """Return an empty table without rules; the columns named in `numbers` stand to the right."""
    from rich.table import Table  # slow, and sentences do without

    empty = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="bold")
    for heading in headings:
        empty.add_column(heading, justify="right" if heading in numbers else "left")
    return empty


def counted(number: int, thing: str) -> str:
    """Return a number with its noun, such as "1 object" or "3 objects"."""
    return f"{number:,} {thing}{'' if number == 1 else 's'}"


def length_told(seconds: float) -> str:
    """Return a length as minutes and seconds, or hours, minutes and seconds."""
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def listed(names: Iterable[str]) -> str:
    """Return `names` in a row, the first few of many."""
    every = list(names)
    if len(every) > LONGEST_LIST:
        return " ".join([*every[:LONGEST_LIST], f"... ({len(every):,})"])
    return " ".join(every)


def in_words(names: Sequence[str]) -> str:
    """Return one or more names as a sentence has them, such as "a, b and c"."""
    *others, last = names
    return f"{', '.join(others)} and {last}" if others else last


def shortened(text: str) -> str:
    """Return `text`, or its beginning where it is long."""
    return text if len(text) <= LONGEST_TEXT else f"{text[:LONGEST_TEXT]}..."


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

    from throwcount.engine.search.walks import unwatched

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


CAUTION: Final = (
    "Keep the volume low enough to talk over, above all with headphones; take breaks; clear the "
    "floor and the air above you of people, cables and pedals. For knives, fire, glass and heavy "
    "props follow local rules and learn from someone qualified."
)

INSTEAD_OF_A_DEVICE: Final = "`throwcount render` writes what would be heard to a file."


@contextmanager
def device_told() -> Iterator[None]:
    """Turn a device that is not there into a sentence that names the way round it."""
    try:
        yield
    except DeviceError as error:
        raise OutsideError(f"{error} {INSTEAD_OF_A_DEVICE}") from error


Document: TypeAlias = dict[str, Any]


ROOM_CAUTION: Final = (
    "The heights are those of steady throws, at the middle of the object: leave room above for "
    "the object itself and for a throw that goes too high."
)
