"""A pattern as a picture: beats from left to right, the two hands, and an arc for every flight.

Each hand has a line, with what it throws on each beat. An arc leads from there to where the object
is thrown next, and rises with the throw's value; a held object stays low. Every object has a
letter, a colour and a kind of line (see `throwcount.caller.pictures.sheet`).

Coordinates are in beats in both directions. The right hand's line lies at height 0, the left hand's
below it.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeAlias

from throwcount.caller.pictures.ladder import Stop, paths, thrown
from throwcount.caller.pictures.sheet import GREY, Sheet, line_style, picture
from throwcount.caller.terminal.printing import shortened
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.pattern import HELD_VALUE, Hand, Pattern
from throwcount.engine.patterns.states import orbits

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HAND_LINES: Final[Mapping[Hand, float]] = {"right": 0.0, "left": -1.0}
"""The height of each hand's line."""

RISE: Final = 0.5
"""How far a throw rises for each beat of its value."""

HIGHEST_ARC: Final = 12.0
"""The most that an arc may rise; all arcs are flattened if one would rise further."""

HELD_RISE: Final = 0.35
LETTER_DISTANCE: Final = 0.45
"""Between the arcs of two objects that fly together."""

CLOSE: Final = 0.6
"""Letters nearer than this would touch."""

PLACES: Final = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)
"""Where a letter may stand on its arc, as shares of the way, the best first."""

Point: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Arc:
    """The path of an object from a throw to its next."""

    name: str
    """The object's letter."""
    index: int
    """The object's place among all, from 0."""
    start: Point
    """Its throw."""
    end: Point
    """Its next throw."""
    rise: float
    """How far the middle lies above the straight line between them."""

    def at(self, share: float) -> Point:
        """Return the point after a share of the way, 0 to 1; a parabola, as a flight is."""
        (x, y), (to_x, to_y) = self.start, self.end
        lift = 4 * self.rise * share * (1 - share)
        return x + (to_x - x) * share, y + (to_y - y) * share + lift

    def points(self) -> list[Point]:
        """Return enough points of the arc for a smooth line."""
        count = max(16, 8 * math.ceil(self.end[0] - self.start[0]))
        return [self.at(step / count) for step in range(count + 1)]


def arcs(objects: Mapping[str, list[Stop]], beats: int, highest: int) -> list[Arc]:
    """Return the arcs of the throws on the first `beats` beats, object by object.

    `objects` come from `throwcount.caller.pictures.ladder.paths`, and each has a throw on beat
    `beats` or later. `highest` is the highest value thrown.
    """
    rise = min(RISE, HIGHEST_ARC / max(highest, 1))
    taken: dict[tuple[Point, Point], int] = {}
    found = []
    for index, (name, stops) in enumerate(objects.items()):
        for here, there in pairwise(stops):
            if here.beat >= beats:
                break
            beats_along = there.beat - here.beat
            held = here.hand == there.hand and beats_along == HELD_VALUE
            lift = HELD_RISE if held else rise * beats_along
            ends = _point(here), _point(there)
            together = taken[ends] = taken.get(ends, -1) + 1
            found.append(Arc(name, index, *ends, lift + LETTER_DISTANCE * together))
    return found


def letter_places(drawn: list[Arc], beats: range) -> Iterator[tuple[Arc, Point]]:
    """Yield the arcs on these beats with a place for the letter, where one is free."""
    placed: list[Point] = []
    for arc in drawn:
        seen = [arc.at(share) for share in PLACES]
        seen = [point for point in seen if beats.start <= point[0] <= beats.stop - 1]
        free = (point for point in seen if all(math.dist(point, other) > CLOSE for other in placed))
        point = next(free, None)
        if point is not None:
            placed.append(point)
            yield arc, point


def _point(stop: Stop) -> Point:
    return float(stop.beat), HAND_LINES[stop.hand]


BEAT: Final = 0.42
"""Inches for each beat."""

FEWEST_BEATS: Final = 12
ROW_BEATS: Final = 24
MOST_ROWS: Final = 4
KEY_WIDTH: Final = 0.85
"""Inches for each object in the key; objects without room there have only the letters on arcs."""

MARGIN: Final = 0.75
EDGE: Final = 0.2
HEADING: Final = 0.85
NARROWEST: Final = 5.5
LETTER: Final = 0.125
"""Approximate width of a letter of the heading, in inches."""

KEY: Final = 0.35
BELOW: Final = 1.1
"""Beats of room under the left hand's line, for the numbers of the beats."""

Box: TypeAlias = tuple[float, float, float, float]
"""Left, bottom, width and height."""

HINT: Final = "in boxes: what each hand throws   in circles: the objects   arcs: their flights"


@dataclass(frozen=True, slots=True)
class Layout:
    """The rows of a picture."""

    rows: tuple[range, ...]
    """The beats in each."""
    top: float
    """The upper edge of a row, in beats above the right hand's line."""

    @property
    def beats(self) -> int:
        """The number of beats that are drawn."""
        return self.rows[-1].stop

    @property
    def row_height(self) -> float:
        """The height of one row in inches."""
        return (self.top - HAND_LINES["left"] + BELOW) * BEAT

    @property
    def width(self) -> float:
        """The width of the picture in inches."""
        return max(MARGIN + len(self.rows[0]) * BEAT + EDGE, NARROWEST)

    @property
    def height(self) -> float:
        """The height of the picture in inches."""
        return HEADING + len(self.rows) * self.row_height + KEY


def draw_pattern(
    pattern: Pattern, path: Path, first: Hand = "right", *, overwrite: bool = False
) -> None:
    """Draw a pattern that can be thrown in a file; the errors are those of `picture`.

    `first` is the hand of beat 0 where the hands alternate.
    """
    plan = layout(pattern)
    drawn = arcs(paths(pattern, plan.beats, first), plan.beats, pattern.highest)
    text, sentence = shortened(pattern.text), _description(pattern, plan, first)
    sheet = Sheet(plan.width, plan.height, text, f"{text}: {sentence}")
    with picture(path, sheet, overwrite=overwrite) as figure:
        for index, beats in enumerate(plan.rows):
            _draw_row(_row_axes(figure, sheet, plan, index), pattern, drawn, beats, first)
        _draw_heading(figure, sheet, sentence)
        _draw_key(figure, sheet, drawn)


def layout(pattern: Pattern) -> Layout:
    """Return the layout of a pattern: whole paths of the objects, in rows of whole repetitions."""
    path = max((orbit.objects * pattern.period for orbit in orbits(pattern)), default=1)
    whole = max(path, pattern.period)
    beats = whole * max(1, -(-FEWEST_BEATS // whole))
    row = ROW_BEATS // pattern.period * pattern.period or ROW_BEATS
    beats = min(beats, MOST_ROWS * row)
    rows = tuple(range(start, min(start + row, beats)) for start in range(0, beats, row))
    return Layout(rows, max(min(RISE * pattern.highest, HIGHEST_ARC), 1) + 0.6)


def _description(pattern: Pattern, plan: Layout, first: Hand) -> str:
    begins = "both hands throw at once" if pattern.kind == "sync" else f"the {first} hand begins"
    text = f"{counted(pattern.objects, 'object')}; {begins}."
    if plan.beats < pattern.period:
        text += f" Drawn are the first {plan.beats} of {pattern.period:,} beats."
    return text


def _row_axes(figure: "Figure", sheet: Sheet, plan: Layout, index: int) -> "Axes":
    beats = plan.rows[index]
    top = sheet.height - HEADING - index * plan.row_height
    inches = (MARGIN, top - plan.row_height, len(beats) * BEAT, plan.row_height)
    axes = figure.add_axes(_shares(sheet, inches))
    axes.set_xlim(beats.start - 0.5, beats.stop - 0.5)
    axes.set_ylim(HAND_LINES["left"] - BELOW, plan.top)
    axes.axis("off")
    return axes


def _shares(sheet: Sheet, inches: Box) -> Box:
    left, bottom, width, height = inches
    return left / sheet.width, bottom / sheet.height, width / sheet.width, height / sheet.height


def _draw_row(axes: "Axes", pattern: Pattern, drawn: list[Arc], beats: range, first: Hand) -> None:
    seen = [arc for arc in drawn if arc.start[0] < beats.stop and arc.end[0] >= beats.start]
    _draw_beats(axes, pattern, beats)
    for arc in seen:
        style = line_style(arc.index)
        along, up = zip(*arc.points(), strict=True)
        axes.plot(along, up, color=style.colour, linestyle=style.strokes, linewidth=1.6, zorder=2)
    for beat, hand, throws in thrown(pattern, beats, first):
        face = {"boxstyle": "round,pad=0.22", "facecolor": "white", "edgecolor": "black"}
        at, colour = (beat, HAND_LINES[hand]), "black" if throws != "0" else GREY
        axes.text(*at, throws, ha="center", va="center", color=colour, bbox=face, zorder=4)
    for arc, place in letter_places(seen, beats):
        face = {"boxstyle": "circle,pad=0.12", "facecolor": "white"}
        face["edgecolor"] = line_style(arc.index).colour
        axes.text(*place, arc.name, ha="center", va="center", size=8, bbox=face, zorder=3)


def _draw_beats(axes: "Axes", pattern: Pattern, beats: range) -> None:
    """Draw the lines of the hands, the numbers of the beats, and where repetitions begin."""
    for hand, height in HAND_LINES.items():
        axes.axhline(height, color=GREY, linewidth=0.8, zorder=1)
        axes.text(beats.start - 0.65, height, hand, ha="right", va="center", clip_on=False)
    for beat in beats:
        below = HAND_LINES["left"] - 0.75
        axes.text(beat, below, str(beat), ha="center", va="center", color=GREY, size=8)
        if beat % pattern.period == 0 and len(pattern.turns) > 1:
            axes.axvline(beat - 0.5, color=GREY, linewidth=0.8, linestyle=(0, (1, 3)), zorder=1)


def _draw_heading(figure: "Figure", sheet: Sheet, sentence: str) -> None:
    fitting = int((sheet.width - MARGIN - EDGE) / LETTER)
    long = len(sheet.title) > fitting
    title = f"{sheet.title[: fitting - 3]}..." if long else sheet.title
    lines = ((title, 0.12, 13, "bold", "black"), (sentence, 0.36, 9, "normal", "black"))
    for text, below, size, weight, colour in (*lines, (HINT, 0.56, 8, "normal", GREY)):
        left, top = MARGIN / sheet.width, 1 - below / sheet.height
        figure.text(left, top, text, va="top", size=size, weight=weight, color=colour)


def _draw_key(figure: "Figure", sheet: Sheet, drawn: list[Arc]) -> None:
    """Draw the letter and the line of each object at the bottom."""
    axes = figure.add_axes(_shares(sheet, (MARGIN, 0, sheet.width - MARGIN, KEY)))
    axes.set_xlim(0, sheet.width - MARGIN)
    axes.set_ylim(-1, 1)
    axes.axis("off")
    names = {arc.index: arc.name for arc in drawn}
    fitting = int((sheet.width - MARGIN) / KEY_WIDTH)
    for index in sorted(names)[:fitting]:
        style, left = line_style(index), KEY_WIDTH * index
        axes.text(left, 0, names[index], ha="left", va="center", size=9)
        axes.plot([left + 0.15, left + 0.65], [0, 0], color=style.colour, linestyle=style.strokes)
