"""What a person sees: plain text that fits the terminal, with colour only where it is welcome.

Nothing is lost where colour is off or where the terminal knows few signs: colour is never the
only mark of anything, and lines have an ASCII form.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, Final, TypeVar

import click
from rich.console import Console, RenderableType
from rich.table import Table

from caller.console.printable import folded, printable, terminal_size
from caller.errors import PlainError

Told = TypeVar("Told", bound=PlainError)

LONGEST_TEXT: Final = 60
LONGEST_LIST: Final = 12


def console() -> Console:
    """Return a console for standard output that takes every text literally."""
    width, height = terminal_size()
    return Console(
        width=width,
        height=height,
        markup=False,
        highlight=False,
        emoji=False,
        legacy_windows=False,
    )


def show(*parts: RenderableType) -> None:
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


def table(*headings: str, numbers: Sequence[str] = ()) -> Table:
    """Return an empty table without rules; the columns named in `numbers` stand to the right."""
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
