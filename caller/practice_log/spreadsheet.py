"""The sets of the log as comma-separated values (RFC 4180, with line feeds), a line a set."""

import csv
from collections.abc import Callable, Iterable, Iterator, Mapping
from io import StringIO
from typing import Final

from caller.practice_log.moments import utc_text
from caller.practice_log.records import SetKept

COLUMNS: Final[Mapping[str, tuple[str, Callable[[SetKept], object]]]] = {
    "session": ("number of the session", lambda kept: kept.session),
    "set": ("number of the set", lambda kept: kept.number),
    "started": ("UTC, ISO 8601", lambda kept: utc_text(kept.started)),
    "ended": ("likewise; empty if it was not ended", lambda kept: utc_text(kept.ended)),
    "status": ("finished, stopped, open or interrupted", lambda kept: kept.status),
    "outcome": ("clean or drop; empty if it does not count", lambda kept: kept.outcome),
    "pattern": ("the same for every rotation of it", lambda kept: kept.pattern),
    "written": ("as it was asked for", lambda kept: kept.written),
    "objects": ("how many", lambda kept: kept.objects),
    "props": ("of what kind; empty if not told", lambda kept: kept.props),
    "first": ("the hand that began", lambda kept: kept.first),
    "tempo_start": ("beats a minute", lambda kept: kept.tempo_start),
    "tempo_end": ("likewise", lambda kept: kept.tempo_end),
    "tempo_fastest": ("likewise", lambda kept: kept.tempo_fastest),
    "cycle_beats": ("beats in a cycle as written", lambda kept: kept.cycle_beats),
    "beats_planned": ("empty if without end", lambda kept: kept.beats_planned),
    "beats_thrown": ("from the first throw on", lambda kept: kept.beats_thrown),
    "cycles_thrown": (
        "whole ones and a part of one",
        lambda kept: round(kept.beats_thrown / kept.cycle_beats, 3),
    ),
    "seconds": ("of throwing", lambda kept: round(kept.seconds, 3)),
    "clean_marks": ("how many", lambda kept: _count(kept, "clean")),
    "drop_marks": ("how many", lambda kept: _count(kept, "drop")),
}
"""Each column, what stands in it, and how it comes from a set."""


def spreadsheet_lines(sets: Iterable[SetKept]) -> Iterator[str]:
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


def _count(kept: SetKept, mark: str) -> int:
    return sum(given.mark == mark for given in kept.marks)
