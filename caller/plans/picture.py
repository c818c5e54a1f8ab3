"""A routine as a picture: what comes when, the tempo, and the heights under the ceiling.

Time goes from left to right, and a long routine takes several rows. Each row shows the parts as
blocks with the cue calls as flags above them, the tempo, and how high the highest throw rises.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from throwcount.caller.pictures.sheet import COLOURS, GREY, PictureError, Sheet, picture
from throwcount.caller.plans.page import highest
from throwcount.caller.terminal.printing import length_text
from throwcount.engine.patterns.flight import Room
from throwcount.engine.routines.running_order import (
    Entry,
    EntryKind,
    RunningOrder,
    throw_height,
)
from throwcount.engine.timing.run import Run, clock_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LETTER: Final = 0.068
"""Approximate width of a letter in a block, in inches."""

FEWEST_LETTERS: Final = 3
"""A text cut to this many letters or fewer is left out."""

EDGE: Final = 0.05
"""Inches between a block's edge and its letters."""

LEVELS: Final = 2
"""Lines, one above the other, on which cue calls are written in turn."""

LOOKS: Final[dict[EntryKind, dict[str, Any]]] = {
    "part": {"facecolor": "white", "edgecolor": "black"},
    "bridge": {"facecolor": "white", "edgecolor": "black", "hatch": "//////"},
    "rest": {"facecolor": "#d0d0d0", "edgecolor": "black"},
}
CUE_LOOKS: Final[dict[str, Any]] = {
    "size": 7,
    "style": "italic",
    "zorder": 3,
    # Paper under the words, so that no line runs through them.
    "bbox": {"facecolor": "white", "edgecolor": "none", "pad": 0.6},
}
LINES: Final = ((0.72, 8.0, "bold"), (0.42, 8.0, "normal"), (0.15, 7.0, "normal"))
"""Height in a block, size and weight of each of its lines."""


def draw_parts(axes: "Axes", entries: Sequence[Entry], inches: float) -> None:
    """Draw a block from 0 to 1 for each row of the running order.

    The horizontal axis is in seconds, each `inches` wide.
    """
    left, right = axes.get_xlim()
    for entry in entries:
        axes.broken_barh([(entry.time, entry.seconds)], (0, 1), linewidth=0.9, **LOOKS[entry.kind])
        if entry.kind == "bridge":
            continue
        start, end = max(entry.time, left), min(entry.time + entry.seconds, right)
        room = (end - start) * inches - 2 * EDGE
        for (height, size, weight), text in zip(LINES, _lines(entry), strict=False):
            shown = fitting(text, room)
            along = start + EDGE / inches
            axes.text(along, height, shown, size=size, weight=weight, va="center", clip_on=True)


def draw_cues(
    axes: "Axes", entries: Sequence[Entry], span: tuple[float, float], inches: float, top: float
) -> None:
    """Draw a flag where each cue call begins, from the blocks' upper edge at 1 up to `top`.

    The horizontal axis is in seconds, each `inches` wide; those within `span` are visible.
    """
    cues = [entry.cue for entry in entries if entry.cue is not None]
    level = (top - 1) / LEVELS
    ends = [span[0]] * LEVELS
    for index, cue in enumerate(cues):
        if not span[0] <= cue.time < span[1]:
            continue
        line = index % LEVELS
        height = 1 + level * (line + 0.5)
        axes.plot([cue.time, cue.time], [1, height + level / 3], color="black", linewidth=0.9)
        # The next flag on the same line is the next but one.
        later = [each.time for each in cues[index + LEVELS : index + LEVELS + 1]]
        text = cue.text if cue.said else f"not said: {cue.text}"
        before, after = cue.time - ends[line], min([*later, span[1]]) - cue.time
        at_the_end = after * inches < len(text) * LETTER and after < before
        room = (before if at_the_end else after) * inches - 2 * EDGE
        along = cue.time + (-EDGE if at_the_end else EDGE) / inches
        side = "right" if at_the_end else "left"
        shown = fitting(text, room)
        axes.text(along, height, shown, ha=side, va="center", **CUE_LOOKS)
        ends[line] = cue.time + len(shown) * LETTER / inches


def fitting(text: str, inches: float) -> str:
    """Return as much of `text` as fits; nothing if that is `FEWEST_LETTERS` letters or fewer."""
    letters = int(inches / LETTER)
    if len(text) <= letters:
        return text
    return f"{text[: letters - 1]}…" if letters > FEWEST_LETTERS else ""


def _lines(entry: Entry) -> tuple[str, ...]:
    titled = f"{entry.number} {entry.title}"
    pattern = "" if entry.title == entry.text else entry.text
    change = f"{entry.change:+d}" if entry.change else ""
    return titled, " ".join(filter(None, [pattern, change])), entry.how


MOST_ROWS: Final = 12
ROW_WIDTH: Final = 12.0
NARROWEST: Final = 7.0
PART_WIDTH: Final = 1.25
"""Inches for each part, on average."""

LEFT: Final = 0.75
RIGHT: Final = 0.25
HEADING: Final = 0.6
CUES: Final = 0.42
PARTS: Final = 0.62
TEMPO: Final = 0.9
HEIGHTS: Final = 1.2
BETWEEN: Final = 0.12
TIMES: Final = 0.5
ROW: Final = CUES + PARTS + TEMPO + HEIGHTS + 2 * BETWEEN + TIMES
"""Inches: the margins, and what a row consists of from top to bottom."""

POINTS_AN_INCH: Final = 30
"""Resolution of the curves."""

HINT: Final = "hatched: the throws between two parts; grey: rests; flags: where cue calls begin"
LIGHT: Final = "#e4e4e4"
TOO_HIGH: Final = COLOURS["vermilion"]

Polyline: TypeAlias = list[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class PlanRow:
    """A row of the picture: the seconds from `start` to `end`."""

    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Drawing:
    """What is drawn, and how large."""

    order: RunningOrder
    run: Run
    room: Room
    rows: tuple[PlanRow, ...]
    width: float
    """Inches of a row."""

    @property
    def sheet(self) -> Sheet:
        """The size, title and description of the picture."""
        order = self.order
        text = f"{order.title}, {length_text(order.seconds)} long"
        names = ", ".join(entry.title for entry in order.entries if entry.kind != "bridge")
        height = HEADING + len(self.rows) * ROW
        return Sheet(LEFT + self.width + RIGHT, height, order.title, f"{text}: {names}.")

    def tempos(self, entry: Entry) -> Polyline:
        """Return the tempo over a row of the running order, as points in time."""
        clock = clock_of(self.run)
        share = entry.seconds / self.order.seconds
        steps = max(2, round(share * self.width * len(self.rows) * POINTS_AN_INCH))
        times = (entry.time + entry.seconds * step / steps for step in range(steps))
        curve = [(time, self.run.tempo.tempo_at(clock.beat_at(time))) for time in times]
        return [*curve, (entry.time + entry.seconds, entry.to)]

    def heights(self, entry: Entry) -> Polyline:
        """Return the metres above the floor that its highest throw reaches; empty if none flies."""
        rising = highest(entry, self.room)
        if rising is None:
            return []
        throw = rising[0]
        return [(time, throw_height(throw, tempo, self.room)) for time, tempo in self.tempos(entry)]


def draw_plan(
    order: RunningOrder, run: Run, room: Room, path: Path, *, overwrite: bool = False
) -> None:
    """Draw a routine in a file; the errors are those of `rows_of` and `picture`."""
    drawing = Drawing(order, run, room, *rows_of(order))
    sheet = drawing.sheet
    with picture(path, sheet, overwrite=overwrite) as figure:
        left, text = LEFT / sheet.width, f"{length_text(order.seconds)} long; {HINT}"
        title_at, told_at = 1 - 0.12 / sheet.height, 1 - 0.38 / sheet.height
        figure.text(left, title_at, sheet.title, va="top", size=13, weight="bold")
        figure.text(left, told_at, text, va="top", size=8, color=GREY)
        for index, row in enumerate(drawing.rows):
            top = sheet.height - HEADING - index * ROW
            _draw_row(figure, drawing, row, top)


def rows_of(order: RunningOrder) -> tuple[tuple[PlanRow, ...], float]:
    """Return the rows of a picture and their width in inches.

    Raises
    ------
    PictureError
        If the routine has too many parts for a readable picture.
    """
    parts = sum(entry.kind != "bridge" for entry in order.entries)
    needed = max(NARROWEST, parts * PART_WIDTH)
    count = math.ceil(needed / ROW_WIDTH)
    if count > MOST_ROWS:
        most = int(MOST_ROWS * ROW_WIDTH / PART_WIDTH)
        raise PictureError(
            f"This routine has {parts:,} parts, and a picture is readable with up to {most}: draw "
            "a piece of it from a file of its own."
        )
    seconds = order.seconds / count
    rows = tuple(PlanRow(index * seconds, (index + 1) * seconds) for index in range(count))
    return rows, needed / count


def _draw_row(figure: "Figure", drawing: Drawing, row: PlanRow, top: float) -> None:
    """Draw a row; its upper edge is `top` inches above the bottom of the picture."""
    entries = [
        entry
        for entry in drawing.order.entries
        if entry.time < row.end and entry.time + entry.seconds > row.start
    ]
    inches = drawing.width / (row.end - row.start)
    below = top - CUES - PARTS
    axes = _axes(figure, drawing, row, below, CUES + PARTS)
    axes.set_ylim(0, 1 + CUES / PARTS)
    axes.axis("off")
    draw_parts(axes, entries, inches)
    draw_cues(axes, drawing.order.entries, (row.start, row.end), inches, 1 + CUES / PARTS)
    below -= BETWEEN + TEMPO
    _draw_tempo(_axes(figure, drawing, row, below, TEMPO), drawing, entries)
    below -= BETWEEN + HEIGHTS
    axes = _axes(figure, drawing, row, below, HEIGHTS)
    _draw_heights(axes, drawing, entries)
    axes.tick_params(labelbottom=True)
    axes.xaxis.set_major_formatter(lambda seconds, _: length_text(seconds))


def _axes(figure: "Figure", drawing: Drawing, row: PlanRow, bottom: float, height: float) -> "Axes":
    sheet = drawing.sheet
    box = LEFT / sheet.width, bottom / sheet.height, drawing.width / sheet.width
    axes = figure.add_axes((*box, height / sheet.height))
    axes.set_xlim(row.start, row.end)
    axes.tick_params(labelsize=7, labelbottom=False)
    return axes


def _draw_tempo(axes: "Axes", drawing: Drawing, entries: Sequence[Entry]) -> None:
    tempos = [tempo for entry in drawing.order.entries for tempo in (entry.tempo, entry.to)]
    margin = max(5.0, 0.15 * (max(tempos) - min(tempos)))
    axes.set_ylim(min(tempos) - margin, max(tempos) + margin)
    axes.set_ylabel("beats\na minute", size=7)
    _draw_changes(axes, entries)
    for entry in entries:
        axes.plot(*_along(drawing.tempos(entry)), color="black", linewidth=1.4)


def _draw_heights(axes: "Axes", drawing: Drawing, entries: Sequence[Entry]) -> None:
    room = drawing.room
    reached = [rising[1] for each in drawing.order.entries if (rising := highest(each, room))]
    axes.set_ylim(0, max([room.hands, room.ceiling or 0.0, *reached]) * 1.2)
    axes.set_ylabel("metres above\nthe floor", size=7)
    _draw_changes(axes, entries)
    axes.axhline(room.hands, color=GREY, linewidth=0.8, linestyle=(0, (1, 2)))
    if room.ceiling is not None:
        axes.axhline(room.ceiling, color=TOO_HIGH, linewidth=1.4, linestyle=(0, (6, 2)))
    for entry in entries:
        curve = drawing.heights(entry)
        if curve:
            times, metres = _along(curve)
            axes.fill_between(times, metres, room.hands, color=LIGHT, linewidth=0)
            axes.plot(times, metres, color="black", linewidth=1.4)
            for stretch in _over(curve, room.ceiling):
                axes.plot(*_along(stretch), color=TOO_HIGH, linewidth=3.5)
    left, right = axes.get_xlim()
    along = left + 0.004 * (right - left)
    axes.text(along, room.hands, "hands", size=6.5, color=GREY, va="bottom")
    if room.ceiling is not None:
        text = f"ceiling, {room.ceiling:g} m"
        axes.text(along, room.ceiling, text, size=6.5, color=TOO_HIGH, va="bottom")


def _draw_changes(axes: "Axes", entries: Sequence[Entry]) -> None:
    for entry in entries:
        axes.axvline(entry.time, color=GREY, linewidth=0.5, linestyle=(0, (1, 3)), zorder=0)


def _along(curve: Polyline) -> tuple[list[float], list[float]]:
    return [time for time, _ in curve], [value for _, value in curve]


def _over(curve: Polyline, ceiling: float | None) -> Iterator[Polyline]:
    """Yield the stretches of a curve that lie above the ceiling."""
    stretch: Polyline = []
    for point in curve:
        if ceiling is not None and point[1] > ceiling:
            stretch.append(point)
        elif stretch:
            yield stretch
            stretch = []
    if stretch:
        yield stretch
