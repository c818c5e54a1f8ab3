"""`throwcount log`: what was practised, as tables, as one JSON document or as a spreadsheet.

JSON and spreadsheet are written in pieces, so that the log may have any length. The spreadsheet
has comma-separated values (RFC 4180, with line feeds), one set a line.
"""

import csv
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import UTC, datetime
from io import StringIO
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import click

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.log.records import (
    BestRun,
    ChangeRecord,
    GoalMet,
    MarkGiven,
    PartRecord,
    PatternRecord,
    RunRecord,
    SessionRecord,
    SetRecord,
    TakeRecord,
    TakeSummary,
    Totals,
    utc_text,
)
from throwcount.caller.options.arguments import (
    FILE,
    WholeRange,
    flag,
    json_option,
    log_option,
    option,
)
from throwcount.caller.pictures.sheet import force_option, picture_option
from throwcount.caller.terminal.text import printable, terminal_size

if TYPE_CHECKING:
    from rich.console import RenderableType

    from throwcount.caller.log.history import History, LogChoice
    from throwcount.caller.log.page import LogView
    from throwcount.caller.session_file.suggestion import SuggestedBlock, Suggestion

Record: TypeAlias = (
    Totals
    | SessionRecord
    | PatternRecord
    | SetRecord
    | MarkGiven
    | TakeSummary
    | BestRun
    | GoalMet
    | PartRecord
    | ChangeRecord
)


def document_pieces(
    history: "History",
    choice: "LogChoice",
    view: "LogView",
    path: Path,
    suggestion: "Suggestion | None" = None,
) -> Iterator[str]:
    """Yield the document: what was asked for, sums, sessions, patterns, every set and take.

    Then come the best runs and the parts and changes of routines, and the session that was
    suggested, if one was. Times are in UTC by ISO 8601, tempos in beats a minute; `seconds` are
    spent throwing. `view` tells what counts as lately.
    """
    import json

    asked = {
        "log": str(path),
        "pattern": choice.pattern,
        "props": choice.props,
        "since": utc_text(choice.since),
    }
    yield json.dumps({**asked, "totals": _document(history.totals(choice))})[:-1]
    yield from _listed("sessions", map(_document, history.sessions(choice)))
    yield from _listed("patterns", map(_document, history.patterns(choice)))
    waiting = history.patterns_not_since(view.lately_began, choice)
    yield f', "lately_days": {view.lately}'
    yield from _listed("not_lately", map(_document, waiting))
    yield from _listed("sets", map(_set, history.sets(choice)))
    yield from _listed("takes", map(_take, history.takes(choice)))
    runs = history.runs(view.today, choice)
    yield from _listed("records", (_run(kept, kept.best) for kept in runs if kept.best))
    yield from _listed("parts", map(_document, history.parts(choice)))
    yield from _listed("changes", map(_document, history.changes(choice)))
    if suggestion is not None:
        yield from _listed("suggested", map(_suggested, suggestion.blocks))
    yield "}\n"


def _listed(name: str, documents: Iterable[dict[str, Any]]) -> Iterator[str]:
    import json

    yield f', "{name}": ['
    separator = "\n"
    for document in documents:
        yield separator + json.dumps(document)
        separator = ",\n"
    yield "\n]"


def _set(kept: SetRecord) -> dict[str, Any]:
    return _document(kept) | {"marks": [_document(mark) for mark in kept.marks]}


def _run(kept: RunRecord, best: BestRun) -> dict[str, Any]:
    """Return the best run of a pattern, what came today and before, and how goals were met."""
    return {
        "pattern": kept.pattern,
        "props": kept.props,
        **_document(best),
        "objects": kept.objects,
        "attempts": kept.attempts,
        "catches_not_known": kept.not_known,
        "throwing": kept.seconds,
        "before": kept.best_before,
        "today": {
            "catches": kept.best_today,
            "attempts": kept.attempts_today,
            "throwing": kept.seconds_today,
        },
        "own_goal": {"asked": kept.asked, "met": kept.reached},
        "goals": [_document(goal) for goal in kept.goals],
    }


def _suggested(block: "SuggestedBlock") -> dict[str, Any]:
    pattern, props = block.written.pattern, block.written.props
    told = {"role": block.role, "why": block.why, "seconds": round(block.seconds)}
    return {"pattern": pattern, "props": props or "", **told}


def _take(kept: TakeRecord) -> dict[str, Any]:
    fields = _document(kept.summary)
    # Scripts know the confidence by the key that it had first.
    named = {"sureness" if name == "confidence" else name: fields[name] for name in fields}
    return {"number": kept.number, "kept": utc_text(kept.kept), **named}


def _document(record: Record) -> dict[str, Any]:
    """Return the fields of a record, with times as text."""
    fields = ((name, getattr(record, name)) for name in record.__slots__)
    return {
        name: utc_text(value) if isinstance(value, datetime) else value for name, value in fields
    }


COLUMNS: Final[Mapping[str, tuple[str, Callable[[SetRecord], object]]]] = {
    "session": ("number of the session", lambda kept: kept.session),
    "set": ("number of the set", lambda kept: kept.number),
    "started": ("UTC, ISO 8601", lambda kept: utc_text(kept.started)),
    "ended": ("likewise; empty if it did not end", lambda kept: utc_text(kept.ended)),
    "status": ("finished, stopped, open or interrupted", lambda kept: kept.status),
    "outcome": ("clean or drop; empty if it does not count", lambda kept: kept.outcome),
    "pattern": ("the same for every rotation of it", lambda kept: kept.pattern),
    "written": ("as it was asked for", lambda kept: kept.written),
    "objects": ("how many", lambda kept: kept.objects),
    "props": ("of what kind; empty if not given", lambda kept: kept.props),
    "first": ("the hand that began", lambda kept: kept.first),
    "tempo_start": ("beats a minute", lambda kept: kept.tempo_start),
    "tempo_end": ("likewise", lambda kept: kept.tempo_end),
    "tempo_fastest": ("likewise", lambda kept: kept.tempo_fastest),
    "cycle_beats": ("beats in a cycle as written", lambda kept: kept.cycle_beats),
    "beats_planned": ("empty if without end", lambda kept: kept.beats_planned),
    "beats_thrown": ("from the first throw on", lambda kept: kept.beats_thrown),
    "cycles_thrown": (
        "whole cycles and a part of one",
        lambda kept: round(kept.beats_thrown / max(kept.cycle_beats, 1), 3),
    ),
    "seconds": ("of throwing", lambda kept: round(kept.seconds, 3)),
    "clean_marks": ("how many", lambda kept: _count(kept, "clean")),
    "drop_marks": ("how many", lambda kept: _count(kept, "drop")),
    "catches": ("until the drop; empty if not known", lambda kept: kept.catches),
    "goal": ("catches asked for; empty if none", lambda kept: kept.goal),
    "part": ("of a routine; empty for a single pattern", lambda kept: kept.part),
    "after_part": ("the part that it was entered from", lambda kept: kept.after_part),
}
"""The columns: what is in each, and how to get it from a set."""


def spreadsheet_lines(sets: Iterable[SetRecord]) -> Iterator[str]:
    """Yield the line of headings and a line for each set."""
    line = StringIO(newline="")
    writer = csv.writer(line, lineterminator="\n")
    writer.writerow(COLUMNS)
    yield line.getvalue()
    for kept in sets:
        line.seek(0)
        line.truncate()
        writer.writerow(value(kept) for _, value in COLUMNS.values())
        yield line.getvalue()


def _count(kept: SetRecord, mark: str) -> int:
    return sum(given.mark == mark for given in kept.marks)


PIECES_AT_ONCE: Final = 500
"""Lines that are written to the output together."""

EPILOG: Final = (
    """\
\b
Examples:
  throwcount log
  throwcount log --pattern 531 --props clubs
  throwcount log --since 2026-03-01 --picture march.svg
  throwcount log --csv > sets.csv
  throwcount log --suggest tonight.toml
  throwcount log --backup practice-2026-03.sqlite

A session of 20 to 40 minutes is suggested by rules that coaches use. It begins with the easiest of
what goes well: at least 80 % of the marked sets clean, or runs of 100 catches. It works on two or
three patterns, less than ten minutes each, with the tempo last held clean: those whose best run of
the last four weeks is at least 60 % of the next goal (flash, qualify, 50 or 100 catches), then
those that waited longest (see --lately), for a goal that was met before. It ends with something
that goes well.

\b
Columns of --csv, a line a set:
"""
    + "\n".join(f"  {name:15}{what}" for name, (what, _) in COLUMNS.items())
    + "\n"
)


def _day_began(
    _ctx: click.Context, _param: click.Parameter, day: datetime | None
) -> datetime | None:
    """Return the local time at which a day began."""
    try:
        return None if day is None else day.astimezone()
    except (ValueError, OverflowError, OSError) as error:
        raise click.BadParameter(f"{day:%Y-%m-%d} is too far away.") from error


@click.command("log", epilog=EPILOG, context_settings=HELP_OPTIONS)
@option("--pattern PATTERN", str, "Show only this pattern, such as 531, in any rotation.")
@option("--props NAME", str, "Show only sets with these props, such as clubs.")
@option(
    "--since DAY",
    click.DateTime(["%Y-%m-%d"]),
    "Show only what was practised from this day on, such as 2026-03-31.",
    callback=_day_began,
)
@option(
    "--lately DAYS",
    WholeRange(1, 36_500),
    "Show which patterns have not been practised for this long.",
    default=14,
)
@option("--rows N", WholeRange(1, 10_000), "Show at most N lines of each table.", default=10)
@json_option
@flag("--csv", "Print the sets as comma-separated values.", name="as_csv")
@picture_option
@option(
    "--suggest FILE",
    FILE,
    "Write a session to practise next, with the props used last: see below.",
)
@flag("--check", "Say whether the log is whole; the exit status is 1 if it is not.")
@option("--backup FILE", FILE, "Copy the log to a file, also in the middle of a practice.")
@option("--repair FILE", FILE, "Save what can be read of a damaged log in a new one.")
@option("--take-in FILE", FILE, "Keep a practice that was put aside, as the log was not writable.")
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
    suggest: Path | None,
    check: bool,
    backup: Path | None,
    repair: Path | None,
    take_in: Path | None,
    force: bool,
    log_file: Path,
) -> None:
    """Show what was practised.

    You see the sessions, the best of each pattern, the runs in catches with the goals met, ever
    and today, which changes of routines are dropped most, the patterns not practised lately, and
    the takes that `throwcount listen --keep` kept. A pattern is recognised in any rotation. Every
    set is an attempt; it counts as clean or as a drop by its marks. Times are local here, and UTC
    in --json and --csv.
    """
    from throwcount.caller.log.history import History, LogChoice
    from throwcount.caller.log.page import LogView, nothing_kept
    from throwcount.caller.terminal.printing import show

    if as_json and as_csv:
        raise click.UsageError("--json and --csv both fill the output; keep one of them.")
    if suggest is not None and pattern is not None:
        raise click.UsageError("--suggest needs all patterns; leave --pattern out.")
    care = (check, backup, repair, take_in)
    if any(care):
        if sum(map(bool, care)) > 1 or any((pattern, props, since, as_csv, picture, suggest)):
            raise click.UsageError(ALL_OF_IT)
        _look_after(log_file, rows, care, force=force, as_json=as_json)
        return
    choice = LogChoice(_canonical(pattern), props, since)
    view = LogView(rows, lately, datetime.now(UTC), terminal_size().columns)
    with History.open(log_file) as history, history.unchanging():
        if picture is not None and history.totals(choice).sets:
            from throwcount.caller.log.chart import draw_days

            draw_days(history.days(choice), picture, overwrite=force)
        suggestion = None
        if suggest is not None:
            suggestion = _written(history, choice, view, suggest, overwrite=force)
        if as_json:
            _print(document_pieces(history, choice, view, log_file, suggestion))
        elif as_csv:
            _print(map(printable, spreadsheet_lines(history.sets(choice))))
        elif suggest is not None and suggestion is not None:
            show(*_suggestion_page(suggestion, suggest, nothing_kept(choice, log_file)))
        else:
            show(*_page(history, choice, view, log_file))


ALL_OF_IT: Final = (
    "--check, --backup, --repair and --take-in are about the whole log: give one of them, without "
    "--pattern, --props, --since, --csv, --picture and --suggest."
)


def _look_after(
    log: Path,
    rows: int,
    care: tuple[bool, Path | None, Path | None, Path | None],
    *,
    force: bool,
    as_json: bool,
) -> None:
    """Check the log, back it up, repair it, or take a practice in that was put aside."""
    from throwcount.caller.log.repair_page import show_backup, show_check, show_repair, show_taken

    _, backup, repair, take_in = care
    if backup is not None:
        show_backup(log, backup, overwrite=force, as_json=as_json)
    elif repair is not None:
        show_repair(log, repair, rows, overwrite=force, as_json=as_json)
    elif take_in is not None:
        show_taken(log, take_in, as_json=as_json)
    else:
        show_check(log, rows, as_json=as_json)


def _written(
    history: "History", choice: "LogChoice", view: "LogView", path: Path, *, overwrite: bool
) -> "Suggestion":
    """Return a suggestion, written to `path` if it has anything in it."""
    from throwcount.caller.session_file.suggestion import suggest
    from throwcount.sounds.files.whole_files import write_text

    suggestion = suggest(history, choice, view)
    if suggestion.blocks:
        write_text(path, [suggestion.text], overwrite=overwrite)
    return suggestion


def _suggestion_page(
    suggestion: "Suggestion", path: Path, without: str
) -> "Iterator[RenderableType]":
    """Yield what was suggested, and why; `without` is what is said of a log without any set."""
    from throwcount.caller.terminal.printing import shortened, table

    if not suggestion.blocks:
        yield f"Nothing is suggested. {without}"
        return
    with_props = f" with {suggestion.props}" if suggestion.props else ""
    yield f"About {suggestion.minutes:.0f} minutes{with_props}:"
    yield ""
    shown = table("block", "pattern", "minutes", "why", numbers=("minutes",))
    for block in suggestion.blocks:
        pattern = shortened(block.written.pattern)
        shown.add_row(block.role, pattern, f"{block.seconds / 60:.0f}", block.why)
    yield shown
    yield ""
    yield f"Wrote {path}: `throwcount plan {path}` lays it out, and `play` leads through it."


def _page(
    history: "History", choice: "LogChoice", view: "LogView", log_file: Path
) -> "Iterator[RenderableType]":
    """Yield the page of the sets, then that of the takes; a sentence if there is neither."""
    from throwcount.caller.log.history import LogChoice
    from throwcount.caller.log.page import log_page, nothing_kept, takes_page

    takes = list(history.takes(choice, view.rows + 1))
    if history.totals(choice).sets:
        yield from log_page(history, choice, view)
        if takes:
            yield ""
    elif not takes or choice != LogChoice():
        yield nothing_kept(choice, log_file)
    if takes:
        yield from takes_page(takes, view)


def _canonical(pattern: str | None) -> str | None:
    if pattern is None:
        return None
    from throwcount.caller.commands.shared import reporting_wrong_input
    from throwcount.engine.patterns.rows import canonical
    from throwcount.engine.patterns.rules import read

    with reporting_wrong_input(pattern):
        return canonical(read(pattern)).text


def _print(pieces: Iterable[str]) -> None:
    from throwcount.caller.commands.shared import write_piece

    waiting = iter(pieces)
    while text := "".join(islice(waiting, PIECES_AT_ONCE)):
        write_piece(text)
