"""The page that `listen` shows of a take: answers first, then tables over time, by throw, of drops.

On a narrow terminal a table leaves out its less important columns, so that no cell is broken.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from throwcount.caller.reports.answers import answers, cycle_places, is_off, is_uneven, part_name
from throwcount.caller.reports.figures import (
    TakeWindow,
    moment_text,
    ms,
    percent,
    signed,
    sure_of_beat,
    take_windows,
    throw_text,
    with_error,
    without_controls,
)
from throwcount.caller.reports.take import ONLY_SOUNDS, HeardTake
from throwcount.caller.terminal.printing import length_text, table
from throwcount.caller.terminal.text import terminal_size
from throwcount.engine.numbers import counted
from throwcount.engine.takes.drops import Drop
from throwcount.engine.takes.report import TakeReport
from throwcount.engine.takes.throw_bias import Position

MOST_ROWS: Final = 12
"""The most rows of a table: windows of the take, throws, or drops."""

USUAL: Final = 60
WIDE: Final = 76
"""Columns of a terminal that leave room for all but the scale, and for the scale too."""

SCALE: Final = 8
"""Characters of a scale on either side of its middle."""

LEAST_REACH: Final = 0.020
"""The least reach of a scale in seconds: on a smaller one chance would look large."""

TOLD_TEMPO: Final = 0.1
"""The precision to which a tempo is given, in beats a minute."""

LATE: Final = "late, ms"
BEYOND: Final = "Late: against the take as a whole; * beyond chance."
AROUND: Final = "Late: against the catches around; * beyond chance."


@dataclass(frozen=True, slots=True)
class TakeColumn:
    """A column of a table."""

    heading: str
    cells: Sequence[str]
    """From top to bottom."""
    number: bool = True
    """Whether the cells are aligned to the right."""
    least: int = 0
    """The columns that a terminal needs for this one to be shown."""


def _tabled(*columns: TakeColumn | None) -> Table:
    """Return a table of the columns that are not None and that the terminal has room for."""
    width = terminal_size().columns
    chosen = [each for each in columns if each is not None and each.least <= width]
    numbers = [each.heading for each in chosen if each.number]
    shown = table(*(each.heading for each in chosen), numbers=numbers)
    for each, column in zip(chosen, shown.columns, strict=True):
        column.no_wrap = each.number or each.least == WIDE  # words may be folded, numbers not
    for row in zip(*(each.cells for each in chosen), strict=True):
        shown.add_row(*row)
    return shown


def over_time(report: TakeReport) -> Iterator[RenderableType]:
    """Yield tempo and lateness over time; nothing for fewer than two windows."""
    rows = take_windows(report, MOST_ROWS)
    if len(rows) < 2:  # noqa: PLR2004 - one is the tempo of the whole
        return
    late = any(each.late is not None for each in rows)
    yield _tabled(
        TakeColumn("from", [moment_text(each.start) for each in rows]),
        TakeColumn("to", [moment_text(each.end) for each in rows], least=USUAL),
        TakeColumn("tempo", [with_error(each.tempo, each.uncertainty) for each in rows]),
        _asked([each.asked for each in rows]),
        TakeColumn(LATE, [_lateness(each, len(rows)) for each in rows]) if late else None,
        TakeColumn("heard", [str(each.heard) for each in rows], least=USUAL),
        _scale([each.late for each in rows]) if late else None,
    )
    if late:
        yield Text(BEYOND, "dim")


def _asked(tempos: Sequence[float | None]) -> TakeColumn | None:
    """Return the tempos asked for; None if one is unknown, or all are the same."""
    known = [tempo for tempo in tempos if tempo is not None]
    if len(known) < len(tempos) or max(known) - min(known) < TOLD_TEMPO:
        return None
    return TakeColumn("asked", [f"{tempo:.1f}" for tempo in known])


def _lateness(each: TakeWindow, among: int) -> str:
    if each.late is None or each.late_uncertainty is None:
        return "-  "
    mark = "*" if is_off(each, among) else " "
    return f"{signed(1000 * each.late, 1000 * each.late_uncertainty)} {mark}"


def _scale(values: Sequence[float | None]) -> TakeColumn:
    """Return a line for each value, with an "o" on it: left of the middle for early."""
    reach = max([LEAST_REACH, *(abs(value) for value in values if value is not None)])
    lines = []
    for value in values:
        line = [" "] * SCALE + ["|"] + [" "] * SCALE
        if value is not None:
            line[SCALE + round(SCALE * value / reach)] = "o"
        lines.append("".join(line))
    return TakeColumn(f"{'early':<{SCALE}}|{'late':>{SCALE}}", lines, number=False, least=WIDE)


def throw_by_throw(positions: Sequence[Position]) -> Iterator[RenderableType]:
    """Yield how late each throw of the cycle is; nothing for fewer than two."""
    if len(positions) < 2:  # noqa: PLR2004 - nothing to compare it with
        return
    chosen = least_even(positions)
    several = len({each.part for each in positions}) > 1
    heard = [f"{each.spread.heard} of {each.spread.expected}" for each in chosen]
    yield _tabled(
        TakeColumn("part", [part_name(each.part) for each in chosen], number=False)
        if several
        else None,
        TakeColumn("throw", [" and ".join(each.throws) for each in chosen], number=False),
        TakeColumn("on beat", [cycle_places(each) for each in chosen]),
        TakeColumn("heard", heard, least=USUAL),
        TakeColumn(LATE, [_lean(each, len(positions)) for each in chosen]),
        TakeColumn("sd", [ms(each.spread.sd) for each in chosen], least=USUAL),
        _scale([each.spread.mean for each in chosen]),
    )
    if len(chosen) < len(positions):
        yield Text(f"The {len(chosen)} of {len(positions)} throws that are the least even.")
    yield Text(AROUND, "dim")


def _lean(each: Position, among: int) -> str:
    mark = "*" if is_uneven(each, among) else " "
    return f"{signed(1000 * each.spread.mean, 1000 * each.spread.uncertainty)} {mark}"


def least_even(positions: Sequence[Position]) -> list[Position]:
    """Return the throws of the cycle that are furthest from the others, in order."""

    def deviation(each: Position) -> float:
        spread = each.spread
        return abs(spread.mean) / spread.uncertainty if spread.uncertainty > 0 else 0.0

    furthest = sorted(positions, key=deviation, reverse=True)[:MOST_ROWS]
    return [each for each in positions if each in furthest]


def drop_by_drop(drops: Sequence[Drop]) -> Iterator[RenderableType]:
    """Yield the drops; nothing if there are none."""
    if not drops:
        return
    rows = drops[:MOST_ROWS]
    known = any(drop.catch is not None for drop in drops)
    again = ["-" if drop.resumed is None else moment_text(drop.resumed) for drop in rows]
    stopped = ["everything" if drop.kind == "stopped" else "one object" for drop in rows]
    yield _tabled(
        TakeColumn("at", [_moment(drop) for drop in rows]),
        TakeColumn("after a", [throw_text(drop) for drop in rows], number=False) if known else None,
        TakeColumn("of beat", [_beat(drop) for drop in rows], least=USUAL) if known else None,
        TakeColumn("stopped", stopped, number=False),
        TakeColumn("missing", [str(drop.missing) for drop in rows], least=WIDE),
        TakeColumn("again at", again, least=WIDE),
        TakeColumn("sure", [percent(drop.confidence) for drop in rows], least=USUAL),
    )
    if len(drops) > MOST_ROWS:
        yield Text(f"The first {MOST_ROWS} of {len(drops):,}; --json has them all.")


def _moment(drop: Drop) -> str:
    """Return when a drop was, with "about" if unsure and no column of beats tells that."""
    about = "" if drop.catch is not None or sure_of_beat(drop) else "about "
    return about + moment_text(drop.time)


def _beat(drop: Drop) -> str:
    if drop.catch is None:
        return "-"
    return f"{drop.catch.beat:,}" if sure_of_beat(drop) else f"about {drop.catch.beat:,}"


def listen_page(heard: HeardTake) -> Iterator[RenderableType]:
    """Yield the parts of the page, from top to bottom."""
    report = heard.report
    yield Text(headline(heard), "bold")
    if report.steadiness is not None:
        yield Text()
        shown = table("", "")
        shown.show_header = False
        for name, text in answers(report):
            shown.add_row(Text(name, "bold"), text)
        yield shown
        yield from _under("Over time", over_time(report))
        yield from _under("Throw by throw", throw_by_throw(report.positions))
        yield from _under("Drops", drop_by_drop(report.drops))
    hindered = [each.text for each in report.hindrances]
    care = [*hindered, *report.remarks, *heard.notes, *(heard.asked.notes if report.thuds else ())]
    if care:
        yield Text()
    yield from map(Text, care)
    if report.thuds:
        yield Text()
        yield Text(ONLY_SOUNDS, "dim")


def _under(title: str, shown: Iterator[RenderableType]) -> Iterator[RenderableType]:
    """Yield what is shown under a title; nothing if there is nothing to show."""
    for index, each in enumerate(shown):
        if not index:
            yield Text()
            yield Text(title, "bold")
        yield each


def headline(heard: HeardTake) -> str:
    """Return a take's name, what it was held against, and how much was heard."""
    report, title = heard.report, heard.asked.title
    against = f", against {without_controls(title)}" if title else ""
    name = "This practice" if heard.path is None else without_controls(heard.path.name)
    text = f"{name}, {length_text(report.seconds)} long{against}"
    steady = report.steadiness
    if steady is None or not report.known:
        return f"{text}: {counted(report.thuds, 'thud')} heard."
    return f"{text}: {steady.heard:,} of {steady.expected:,} catches heard."
