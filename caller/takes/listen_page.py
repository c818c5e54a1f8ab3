"""What `listen` says of a take: the answers first, then over time, throw by throw and each drop."""

from collections.abc import Iterator
from typing import Final

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from caller.console.terminal import counted, length_told, table
from caller.takes.listen_answers import answers
from caller.takes.listen_figures import without_controls
from caller.takes.listen_tables import drops_told, over_time, throw_by_throw
from caller.takes.take import HeardTake
from engine.catching.report import TakeReport

ONLY_SOUNDS: Final = (
    "Only sounds are heard: a clap or a step near the beat counts as a catch, soft catches may be "
    "missed, and a recorder that levels its sound by itself misses more of them."
)


def listen_page(heard: HeardTake) -> Iterator[RenderableType]:
    """Yield the parts of the page, from top to bottom."""
    report = heard.report
    yield Text(headline(heard), "bold")
    if report.steadiness is not None:
        yield Text()
        yield _answers(report)
        for title, shown in (
            ("Over time", over_time(report)),
            ("Throw by throw", throw_by_throw(report.positions)),
            ("Drops", drops_told(report.drops)),
        ):
            yield from _under(title, shown)
    care = _care(heard)
    if care:
        yield Text()
    for told in care:
        yield Text(told)
    if report.thuds:
        yield Text()
        yield Text(ONLY_SOUNDS, "dim")


def _answers(report: TakeReport) -> Table:
    shown = table("", "")
    shown.show_header = False
    for name, told in answers(report):
        shown.add_row(Text(name, "bold"), told)
    return shown


def _under(title: str, shown: Iterator[RenderableType]) -> Iterator[RenderableType]:
    """Yield what is shown with a title above it; nothing where there is nothing."""
    for index, each in enumerate(shown):
        if not index:
            yield Text()
            yield Text(title, "bold")
        yield each


def _care(heard: HeardTake) -> tuple[str, ...]:
    """Return what is to be known and taken with care, in sentences."""
    report = heard.report
    if not report.thuds:
        return (*report.remarks, *heard.notes)
    return (*report.remarks, *heard.notes, *heard.asked.notes)


def headline(heard: HeardTake) -> str:
    """Return a take's name, what it was held against, and how much was heard."""
    report, title = heard.report, heard.asked.title
    against = f", against {without_controls(title)}" if title else ""
    name = "This practice" if heard.path is None else without_controls(heard.path.name)
    told = f"{name}, {length_told(report.seconds)} long{against}"
    steady = report.steadiness
    if steady is None or not report.known:
        return f"{told}: {counted(report.thuds, 'thud')} heard."
    return f"{told}: {steady.heard:,} of {steady.expected:,} catches heard."
