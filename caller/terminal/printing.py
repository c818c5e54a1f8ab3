"""Prints for people and programs: sentences, tables, JSON documents and progress bars.

Text fits the terminal. Nothing is lost without colour or on a terminal with few characters: colour
is never the only mark of anything, and lines have an ASCII form. Progress bars go to standard
error, and only if someone can see them.
"""

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from time import monotonic
from typing import TYPE_CHECKING, Any, Final, TypeAlias, TypeVar

import click
from click.core import ParameterSource

from throwcount.caller.terminal.text import (
    OutsideError,
    PlainError,
    WrongCommandError,
    encodable,
    folded,
    printable,
    terminal_size,
    visible,
)
from throwcount.sounds.errors import DeviceError, UnknownDeviceError

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.table import Table
    from rich.text import Text

    from throwcount.engine.search.walks import Watch

Document: TypeAlias = dict[str, Any]
Reported = TypeVar("Reported", bound=PlainError)

LONGEST_TEXT: Final = 60
"""Characters of a text that are shown, at most."""

LONGEST_LIST: Final = 12
"""Names in a row, at most."""


def console() -> "Console":
    """Return a console for standard output that makes texts `visible`, and reads no markup."""
    from rich.console import Console, ConsoleOptions  # slow, and sentences do without
    from rich.segment import Segment

    class VisibleConsole(Console):
        def render_str(self, text: str, **how: Any) -> "Text":  # noqa: ANN401 - as in rich
            return super().render_str(visible(text), **how)  # tables give it the room it needs

        def render(
            self, renderable: "RenderableType", options: ConsoleOptions | None = None
        ) -> Iterable[Segment]:
            for text, style, control in super().render(renderable, options):
                yield Segment(text if control else visible(text), style, control)

    width, height = terminal_size()
    return VisibleConsole(
        width=width,
        height=height,
        markup=False,
        highlight=False,
        emoji=False,
        legacy_windows=False,
    )


def show(*parts: "RenderableType") -> None:
    """Write `parts` one after another to standard output."""
    screen = console()
    with screen.capture() as captured:
        for part in parts:
            screen.print(part)
    lines = (line.rstrip() for line in encodable(captured.get()).splitlines())
    click.echo("\n".join(lines), color=screen.color_system is not None)


def tell(*sentences: str, errors: bool = False) -> None:
    """Write sentences, each on lines of its own, to standard output or standard error."""
    for sentence in sentences:
        click.echo(folded(printable(sentence, errors=errors), errors=errors), err=errors)


def warn(*sentences: str) -> None:
    """Write warnings, each on lines of its own, to standard error."""
    tell(*(f"Warning: {sentence}" for sentence in sentences), errors=True)


def show_json(document: Mapping[str, Any]) -> None:
    """Write one JSON document to standard output."""
    import json  # most output is for people

    click.echo(json.dumps(document))


def table(*headings: str, numbers: Sequence[str] = ()) -> "Table":
    """Return an empty table without rules; the columns named in `numbers` are right-aligned."""
    from rich.table import Table  # slow, and sentences do without

    empty = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="bold")
    for heading in headings:
        empty.add_column(heading, justify="right" if heading in numbers else "left")
    return empty


def length_text(seconds: float) -> str:
    """Return a length of time such as ``1:05``, or with hours ``1:00:05``."""
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def listed(names: Iterable[str]) -> str:
    """Return `names` in a row; of many only the first few, and their number."""
    every = list(names)
    if len(every) > LONGEST_LIST:
        return " ".join([*every[:LONGEST_LIST], f"... ({len(every):,})"])
    return " ".join(every)


def in_words(names: Sequence[str]) -> str:
    """Return one or more names in words, such as "a, b and c"."""
    *others, last = names
    return f"{', '.join(others)} and {last}" if others else last


def shortened(text: str, most: int = LONGEST_TEXT) -> str:
    """Return `text`, cut to its first `most` characters if it is longer."""
    return text if len(text) <= most else f"{text[:most]}..."


@contextmanager
def progress(title: str, total: int | None) -> Iterator[Callable[[int], None]]:
    """Show a bar while the context lasts, and yield a function to call with what was just done.

    `title` is what is being done. `total` is how much there is to do; None if it is not known.
    """
    from rich import progress as bars
    from rich.console import Console

    screen = Console(stderr=True, markup=False)
    with bars.Progress(
        bars.TextColumn("{task.description}", markup=False),
        bars.BarColumn(),
        bars.TaskProgressColumn(),
        bars.TimeRemainingColumn(),
        console=screen,
        transient=True,
        redirect_stdout=False,  # else what is piped would end up on the terminal
        disable=not screen.is_terminal,
    ) as bar:
        task = bar.add_task(visible(title), total=total)
        yield lambda done: bar.advance(task, done)


BEFORE_BAR: Final = 1.0
"""Seconds before a bar is shown."""

BETWEEN_UPDATES: Final = 0.1
"""Seconds between two updates of the bar."""


@contextmanager
def search_bar(title: str, clock: Callable[[], float] = monotonic) -> "Iterator[Watch]":
    """Show a bar if the search takes a while, and yield a function to call with the share done.

    The share is from 0 to 1. `clock` returns seconds and never runs backwards.
    """
    from rich.console import Console

    from throwcount.engine.search.walks import unwatched

    screen = Console(stderr=True, markup=False)
    if not screen.is_terminal:
        yield unwatched
        return
    from rich import progress as bars  # only what is seen is loaded

    # Standard output goes above the bar on a terminal, and is left alone where it is piped.
    bar = bars.Progress(
        bars.TextColumn("{task.description}", markup=False),
        bars.BarColumn(),
        bars.TextColumn("{task.percentage:>5.1f} %"),
        bars.TimeElapsedColumn(),
        console=screen,
        transient=True,
        redirect_stdout=sys.stdout.isatty(),
        redirect_stderr=False,
    )
    task = bar.add_task(visible(title), total=1.0)
    due = clock() + BEFORE_BAR

    def watch(share: float) -> None:
        nonlocal due
        now = clock()
        if now >= due:
            bar.start()
            bar.update(task, completed=share)
            due = now + BETWEEN_UPDATES

    try:
        yield watch
    finally:
        bar.stop()


CAUTION: Final = (
    "Keep the volume low enough to talk over, above all with headphones; take breaks; clear the "
    "floor and the air above you of people, cables and pedals. For knives, fire, glass and heavy "
    "props follow local rules and learn from someone qualified."
)


@contextmanager
def suggesting_render() -> Iterator[None]:
    """Add to the error for a missing device that `render` does without one."""
    try:
        yield
    except DeviceError as error:
        text = f"{error} `throwcount render` writes a pattern or a routine to a file."
        raise device_error(error, text, "output", "tried") from error


def device_error(error: DeviceError, text: str, *names: str) -> PlainError:
    """Return the error to raise for one about a device, with another text.

    A device that is not there is an error of the command line, if one of the options was typed.
    """
    ctx = click.get_current_context(silent=True)
    unknown = isinstance(error, UnknownDeviceError)
    sources = [] if ctx is None else [ctx.get_parameter_source(name) for name in names]
    typed = ParameterSource.COMMANDLINE in sources
    return WrongCommandError(text) if unknown and typed else OutsideError(text)


ROOM_CAUTION: Final = (
    "The heights are those of steady throws, at the middle of the object: leave room above for "
    "the object itself and for a throw that goes too high."
)
