"""`throwcount log`: what was practised."""

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from caller.commands import HELP_OPTIONS
from caller.console.picture_file import force_option, picture_option
from caller.console.printable import printable, terminal_size
from caller.options.arguments import WholeRange, json_option
from caller.practice_log.document import document_pieces
from caller.practice_log.place import log_option
from caller.practice_log.spreadsheet import COLUMNS, spreadsheet_lines

if TYPE_CHECKING:
    from rich.console import RenderableType

    from caller.practice_log.history import Choice, History
    from caller.practice_log.page import LogView


PIECES_AT_ONCE: Final = 500
"""Lines that are handed to the output together."""

EPILOG: Final = (
    """\
\b
Examples:
  throwcount log
  throwcount log --pattern 531 --props clubs
  throwcount log --since 2026-03-01 --picture march.svg
  throwcount log --csv > sets.csv

\b
Columns of --csv, a line a set:
"""
    + "\n".join(f"  {name:15}{what}" for name, (what, _) in COLUMNS.items())
    + "\n"
)


def _day_began(
    _ctx: click.Context, _param: click.Parameter, day: datetime | None
) -> datetime | None:
    """Return when a day began here."""
    try:
        return None if day is None else day.astimezone()
    except (ValueError, OverflowError, OSError) as error:
        raise click.BadParameter(f"{day:%Y-%m-%d} is too far away.") from error


@click.command("log", epilog=EPILOG, context_settings=HELP_OPTIONS)
@click.option("--pattern", metavar="PATTERN", help="Only this pattern, in whatever rotation.")
@click.option("--props", metavar="NAME", help="Only sets with these props, such as clubs.")
@click.option(
    "--since",
    type=click.DateTime(["%Y-%m-%d"]),
    callback=_day_began,
    metavar="DAY",
    help="Only from this day on, such as 2026-03-31.",
)
@click.option(
    "--lately",
    type=WholeRange(1, 36_500),
    metavar="DAYS",
    default=14,
    show_default=True,
    help="A pattern waits when it has not been practised for so long.",
)
@click.option(
    "--rows",
    type=WholeRange(1, 10_000),
    metavar="N",
    default=10,
    show_default=True,
    help="Lines of each table, at most.",
)
@json_option
@click.option("--csv", "as_csv", is_flag=True, help="Print the sets as comma-separated values.")
@picture_option
@force_option
@log_option
def log_command(  # noqa: PLR0913, PLR0917 - click gives every option as an argument of its own
    pattern: str | None,
    props: str | None,
    since: datetime | None,
    lately: int,
    rows: int,
    as_json: bool,
    as_csv: bool,
    picture: Path | None,
    force: bool,
    log_file: Path,
) -> None:
    """Show what was practised.

    These are the sessions, the best of each pattern, what has waited long, and the takes that
    `throwcount listen --keep` kept. A pattern is known in whatever rotation it was typed. A set
    counts as clean or as a drop by how it was marked. Times are local here, and UTC in --json and
    --csv.
    """
    from caller.console.terminal import show
    from caller.practice_log.history import Choice, History
    from caller.practice_log.page import LogView

    if as_json and as_csv:
        raise click.UsageError("--json and --csv both fill the output; keep one of them.")
    choice = Choice(_canonical(pattern, as_json), props, since)
    view = LogView(rows, lately, datetime.now(UTC), terminal_size().columns)
    with History.open(log_file) as history, history.unchanging():
        empty = not history.totals(choice).sets
        if picture is not None and not empty:
            from caller.practice_log.chart import draw_days

            draw_days(history.days(choice), picture, overwrite=force)
        if as_json:
            _print(document_pieces(history, choice, view, log_file))
        elif as_csv:
            _print(map(printable, spreadsheet_lines(history.sets(choice))))
        else:
            show(*_page(history, choice, view, log_file))


def _page(
    history: "History", choice: "Choice", view: "LogView", log_file: Path
) -> "Iterator[RenderableType]":
    """Yield the sets, then the takes; where there is nothing at all, that."""
    from caller.practice_log.history import Choice
    from caller.practice_log.page import log_page, nothing_told, takes_page

    takes = list(history.takes(choice, view.rows + 1))
    if history.totals(choice).sets:
        yield from log_page(history, choice, view)
        if takes:
            yield ""
    elif not takes or choice != Choice():
        yield nothing_told(choice, log_file)
    if takes:
        yield from takes_page(takes, view)


def _canonical(pattern: str | None, as_json: bool) -> str | None:
    if pattern is None:
        return None
    from caller.patterns.wrong_pattern import wrong_input_told
    from engine.patterns.canonical import canonical
    from engine.patterns.jugglable import read

    with wrong_input_told(pattern, as_json):
        return canonical(read(pattern)).text


def _print(pieces: Iterable[str]) -> None:
    waiting = iter(pieces)
    while text := "".join(islice(waiting, PIECES_AT_ONCE)):
        click.echo(text, nl=False)
