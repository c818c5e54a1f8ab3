"""What a person sees: plain text that fits the terminal, with colour only where it is welcome.

Nothing is lost where colour is off or where the terminal knows few signs: colour is never the
only mark of anything, and lines have an ASCII form.
"""

import json
import sys
from collections.abc import Mapping
from typing import Any

import click
from rich.console import Console, RenderableType
from rich.table import Table


def console() -> Console:
    """Return a console for standard output that takes every text literally."""
    return Console(markup=False, highlight=False, emoji=False, legacy_windows=False)


def show(*parts: RenderableType) -> None:
    """Write `parts` one after another on standard output."""
    screen = console()
    with screen.capture() as captured:
        for part in parts:
            screen.print(part)
    click.echo(printable(captured.get()), nl=False, color=screen.color_system is not None)


def show_json(document: Mapping[str, Any]) -> None:
    """Write one JSON document on standard output."""
    click.echo(json.dumps(document))


def printable(text: str) -> str:
    """Return `text` with what standard output cannot encode replaced by question marks."""
    encoding = _encoding()
    return text.encode(encoding, "replace").decode(encoding)


def can_print(text: str) -> bool:
    """Return whether standard output can encode `text`."""
    return printable(text) == text


def _encoding() -> str:
    return getattr(sys.stdout, "encoding", None) or "utf-8"


def table(*headings: str, numbers: tuple[str, ...] = ()) -> Table:
    """Return an empty table without rules; the columns named in `numbers` stand to the right."""
    empty = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="bold")
    for heading in headings:
        empty.add_column(heading, justify="right" if heading in numbers else "left")
    return empty
