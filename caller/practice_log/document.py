"""The log as one JSON document, in pieces, so that a log of any length can be written."""

from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from caller.practice_log.moments import utc_text
from caller.practice_log.records import (
    MarkGiven,
    PatternKept,
    SessionKept,
    SetKept,
    TakeKept,
    TakeTold,
    Totals,
)

if TYPE_CHECKING:
    from caller.practice_log.history import Choice, History
    from caller.practice_log.page import LogView

Record: TypeAlias = Totals | SessionKept | PatternKept | SetKept | MarkGiven | TakeTold


def document_pieces(
    history: "History", choice: "Choice", view: "LogView", path: Path
) -> Iterator[str]:
    """Yield the document: what was asked for, sums, sessions, patterns, every set and take.

    Times are in UTC by ISO 8601; tempos in beats a minute; `seconds` are spent throwing.

    `view` tells what counts as lately.
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
    yield "}\n"


def _listed(name: str, documents: Iterable[dict[str, Any]]) -> Iterator[str]:
    import json

    yield f', "{name}": ['
    separator = "\n"
    for document in documents:
        yield separator + json.dumps(document)
        separator = ",\n"
    yield "\n]"


def _set(kept: SetKept) -> dict[str, Any]:
    return _document(kept) | {"marks": [_document(mark) for mark in kept.marks]}


def _take(kept: TakeKept) -> dict[str, Any]:
    return {"number": kept.number, "kept": utc_text(kept.kept), **_document(kept.told)}


def _document(record: Record) -> dict[str, Any]:
    """Return the fields of a record, with moments as text."""
    fields = ((name, getattr(record, name)) for name in record.__slots__)
    return {
        name: utc_text(value) if isinstance(value, datetime) else value for name, value in fields
    }
