"""Pages and documents about the state of a log: checked, backed up, repaired."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from throwcount.caller.log.checking import LogCheck, WrongValue, backed_up, check_log
from throwcount.caller.log.repair import Repair, repaired
from throwcount.caller.log.session_writer import take_in
from throwcount.caller.options.arguments import log_command
from throwcount.caller.terminal.printing import (
    Document,
    in_words,
    shortened,
    show,
    show_json,
    table,
)
from throwcount.caller.terminal.text import printable
from throwcount.engine.numbers import counted

if TYPE_CHECKING:
    from rich.console import RenderableType


def show_check(log: Path, rows: int, *, as_json: bool) -> None:
    """Say whether the log is whole, and what to do if it is not; lists have at most `rows` lines.

    Raises
    ------
    click.exceptions.Exit
        With status 1 if something is wrong.
    LogError
        As `check_log` does.
    """
    found = check_log(log)
    if as_json:
        show_json(_check_document(log, found))
    else:
        show(*_check_page(log, found, rows))
        what = "backup" if found.whole else "repair"
        if not found.whole or any(found.rows.values()):
            click.echo(printable(_command(log, what)))  # on a line of its own, to be copied
    if not found.whole:
        raise click.exceptions.Exit(1)


def show_backup(log: Path, path: Path, *, overwrite: bool, as_json: bool) -> None:
    """Back the log up to `path`, and say so; errors are those of `backed_up`."""
    rows = backed_up(log, path, overwrite=overwrite)
    if as_json:
        show_json({"log": str(log), "file": str(path), "rows": rows})
    else:
        show(f"Wrote {path}: {_rows_in_words(rows)}. The copy was read again, and is whole.")


def show_repair(log: Path, path: Path, rows: int, *, overwrite: bool, as_json: bool) -> None:
    """Repair the log into `path`, and say what came over; errors are those of `repaired`."""
    done = repaired(log, path, overwrite=overwrite)
    if as_json:
        show_json(_repair_document(log, path, done))
    else:
        show(*_repair_page(log, path, done, rows))


def show_taken(log: Path, aside: Path, *, as_json: bool) -> None:
    """Take in a practice that was put aside, and say so; errors are those of `take_in`."""
    sets = take_in(aside, log)
    if as_json:
        show_json({"log": str(log), "file": str(aside), "sets": sets})
    else:
        show(f"{counted(sets, 'set')} of {aside} taken into the log {log}.")


def _check_document(log: Path, found: LogCheck) -> Document:
    return {
        "log": str(log),
        "whole": found.whole,
        "version": found.version,
        "rows": found.rows,
        "damage": found.damage,
        "values": [_value_document(one) for one in found.values],
        "repair": None if found.whole else _command(log, "repair"),
        "backup": _command(log, "backup") if found.whole and any(found.rows.values()) else None,
    }


def _check_page(log: Path, found: LogCheck, rows: int) -> "Iterator[RenderableType]":
    if found.whole and not any(found.rows.values()):
        yield f"Nothing has been practised yet. The practice log will be {log}."
        return
    if found.whole:
        yield f"The practice log {log} is whole: {_rows_in_words(found.rows)}."
        yield "To keep a copy:"
        return
    yield f"The practice log {log} is damaged."
    if found.damage:
        yield ""
        yield "Pages, indexes and references:"
        yield from _first(found.damage, rows)
    yield from _values_listed("Values that cannot be true:", found.values, rows)
    yield ""
    yield "To save what can be read of it in a new log, and leave this one as it is:"


def _repair_document(log: Path, path: Path, done: Repair) -> Document:
    return {
        "log": str(log),
        "file": str(path),
        "complete": done.complete,
        **asdict(done),
        "left_out": done.left_out,
        "mended": [_value_document(one) for one in done.mended],
        "impossible": [_value_document(one) for one in done.impossible],
    }


def _repair_page(log: Path, path: Path, done: Repair, rows: int) -> "Iterator[RenderableType]":
    yield f"Wrote {path}: {_rows_in_words(done.rows)}."
    if done.complete:
        yield "Every row of the log could be read, and came over."
    if any(done.lost.values()):
        yield f"Lost, as their numbers are nowhere to be read: {_rows_in_words(done.lost)}."
    if done.bad_pages:
        yield f"{counted(done.bad_pages, 'page')} of {done.pages:,} could not be read whole."
    if done.without_set:
        yield f"Left out, as the set is lost: {counted(done.without_set, 'mark')}."
    if done.made_sessions:
        made = ", ".join(map(str, done.made_sessions[:rows]))
        more = ", ..." if len(done.made_sessions) > rows else ""
        yield (
            f"Made anew, as sets belong to them: {counted(len(done.made_sessions), 'session')} "
            f"({made}{more}). They begin with the first of these sets, and have its props."
        )
    yield from _values_listed(
        "Mended by the rest of the row, or kept as not known:",
        done.mended,
        rows,
    )
    title = f"Left out for a value that cannot be true: {_rows_in_words(done.left_out)}."
    yield from _values_listed(title, done.impossible, rows)
    yield ""
    yield (
        f"{log} is as it was. To go on with the new log, move that away, with the files beside it "
        f"that end in -wal and -shm, and {path} to its place."
    )


def _values_listed(
    title: str, values: Sequence[WrongValue], rows: int
) -> "Iterator[RenderableType]":
    if not values:
        return
    yield ""
    yield title
    listing = table("table", "row", "column", "value", numbers=("row",))
    for one in values[:rows]:
        listing.add_row(one.table, str(one.row), one.column, shortened(repr(one.value)))
    yield listing
    if len(values) > rows:
        yield f"The first {rows} of {len(values):,}; --rows shows more."


def _first(lines: Sequence[str], rows: int) -> Iterator[str]:
    yield from lines[:rows]
    if len(lines) > rows:
        yield f"The first {rows} of {len(lines):,}; --rows shows more."


def _rows_in_words(rows: Mapping[str, int]) -> str:
    """Return how many rows tables have, such as "1 session, 3 sets and 2 marks"."""
    some = [(name, number) for name, number in rows.items() if number] or [("sets", 0)]
    return in_words([counted(number, name.removesuffix("s")) for name, number in some])


def _value_document(one: WrongValue) -> dict[str, Any]:
    value = one.value
    if isinstance(value, bytes):
        value = value.hex()
    elif isinstance(value, float) and not math.isfinite(value):
        value = str(value)
    return {**asdict(one), "value": value}


def _command(log: Path, what: str) -> str:
    """Return the command that backs a log up, or repairs it, to a file beside it."""
    path = log.with_name(f"{log.stem}-{'repaired' if what == 'repair' else what}{log.suffix}")
    number = 1
    while path.exists():
        number += 1
        path = path.with_stem(f"{path.stem.removesuffix(f'-{number - 1}')}-{number}")
    return log_command(log, what, path)
