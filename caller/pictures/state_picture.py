"""States and the throws between them as a picture, from the ground state on.

A state is written as the number of objects due on each beat to come, the next beat first. A state's
column is the number of throws that it takes to get there from the ground state. Each arrow is a
throw, with its value on it; every value has a colour and a kind of line (see
`throwcount.caller.pictures.sheet`).
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from throwcount.caller.pictures.pattern_picture import Point
from throwcount.caller.pictures.sheet import PictureError, Sheet, line_style, picture
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.pattern import written_turn
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.states import State, is_ground
from throwcount.engine.search.state_graph import number_of_states, states_of, turns_from

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from throwcount.engine.patterns.pattern import Turn

MOST_STATES: Final = 24
"""More of them would be a tangle."""

COLUMN: Final = 2.2
ROW: Final = 1.0
EDGE: Final = 0.35
HEADING: Final = 0.5
"""Inches: between the middles of states, at the edges, and above for the heading."""

DIGIT: Final = 0.045
BOX: Final = 0.16
"""Approximate inches: half the width of a digit, and half the height of a state's box."""

WIDEST_BEND: Final = 1.0
"""Most inches between the middle of a curve and the straight line."""

NARROWEST: Final = 5.5
"""Inches that the heading needs."""

LABEL_ROOM: Final = 0.3
"""Inches that a value needs for itself."""

STEPS: Final = 40
"""Straight segments of a curve."""

PLACES: Final = (0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74)
"""Where a value may stand on its arrow, as shares of the way, the best first."""


@dataclass(frozen=True, slots=True)
class Arrow:
    """The throw from one state to another; pairs may have several."""

    label: str
    """The throws in notation, one a line."""
    value: int
    """The highest throw value."""
    points: tuple[Point, ...]
    """The points of its curve from start to end, in inches."""

    def label_place(self, taken: list[Point]) -> Point:
        """Return a place on the arrow away from those taken, or else its middle."""
        last = len(self.points) - 1
        places = [self.points[round(share * last)] for share in PLACES]
        free = (
            place for place in places if all(math.dist(place, one) > LABEL_ROOM for one in taken)
        )
        return next(free, places[0])


def draw_states(hands: HandLimits, objects: int, path: Path, *, overwrite: bool = False) -> None:
    """Draw the states and the throws between them in a file.

    `objects` is at least 1, and few enough that there are states. The errors are those of
    `picture`, and a `PictureError` if there are more than `MOST_STATES` states.
    """
    number = number_of_states(hands, objects)
    if number > MOST_STATES:
        raise PictureError(
            f"{counted(objects, 'object')} and throws up to {hands.highest} have {number:,} "
            f"states, and a picture is readable with up to {MOST_STATES}: choose a lower highest "
            "throw."
        )
    places = state_places(hands, objects)
    arrows = list(_arrows(hands, places))
    throws = sum(arrow.label.count("\n") + 1 for arrow in arrows)
    text = (
        f"{counted(number, 'state')} of {counted(objects, 'object')}, throws up to {hands.highest}"
    )
    left, right, bottom, top = _bounds(arrows)
    width, height = right - left, top - bottom
    sheet = Sheet(max(width, NARROWEST), height + HEADING, text, f"{text}: {throws} throws.")
    with picture(path, sheet, overwrite=overwrite) as figure:
        figure.text(EDGE / sheet.width, 1 - 0.15 / sheet.height, text, va="top", weight="bold")
        axes = figure.add_axes((0, 0, width / sheet.width, height / sheet.height))
        axes.set_xlim(left, right)
        axes.set_ylim(bottom, top)
        axes.axis("off")
        _draw_arrows(axes, arrows, list(places.values()))
        _draw_states(axes, hands, places)


def state_places(hands: HandLimits, objects: int) -> dict[State, Point]:
    """Return the middle of each state, in inches: a column for each distance from the ground.

    Where throws are too low to reach the ground state, distances are from the first state.
    """
    every = list(states_of(hands, objects))
    columns: list[list[State]] = []
    known: set[State] = set()
    reached = set(filter(is_ground, every)) or set(every[:1])
    while reached:
        columns.append([state for state in every if state in reached])
        known |= reached
        reached = {after for state in reached for _, after in turns_from(hands, state)} - known
    tallest = max(map(len, columns))
    return {
        state: (EDGE + COLUMN * column, EDGE + ROW * (row + (tallest - len(states)) / 2))
        for column, states in enumerate(columns)
        for row, state in enumerate(states)
    }


def _arrows(hands: HandLimits, places: dict[State, Point]) -> Iterator[Arrow]:
    for state, start in places.items():
        half = DIGIT * len(state_text(hands, state)) + BOX / 2, BOX
        throws: dict[State, list[Turn]] = {}
        for turn, after in turns_from(hands, state):
            throws.setdefault(after, []).append(turn)
        for after, turns in throws.items():
            label = "\n".join(written_turn(hands.kind, turn) for turn in turns)
            values = (throw.value for turn in turns for thrown in turn for throw in thrown)
            value = max(values, default=0)
            yield Arrow(label, value, _curve(start, places[after], half))


def _curve(start: Point, end: Point, half: Point) -> tuple[Point, ...]:
    """Return the part of a curve outside the boxes of its states, whose half size is `half`."""
    points = _loop(start, half) if start == end else _bent(start, end)
    return tuple(
        (x, y)
        for x, y in points
        if all(abs(x - at) > half[0] or abs(y - up) > half[1] for at, up in (start, end))
    )


def _bent(start: Point, end: Point) -> Iterator[Point]:
    """Yield a quadratic Bezier curve; ways there and back bend to different sides."""
    (x, y), (to_x, to_y) = start, end
    across, up = to_x - x, to_y - y
    distance = math.hypot(across, up)
    bend = min(0.25 if 0 < across <= COLUMN else 0.4, 2 * WIDEST_BEND / distance)
    middle = (x + to_x) / 2 - bend * up, (y + to_y) / 2 + bend * across
    for step in range(STEPS + 1):
        after = step / STEPS
        before = 1 - after
        shares = before**2, 2 * before * after, after**2
        points = start, middle, end
        yield (
            sum(share * along for share, (along, _) in zip(shares, points, strict=True)),
            sum(share * height for share, (_, height) in zip(shares, points, strict=True)),
        )


def _loop(middle: Point, half: Point) -> Iterator[Point]:
    """Yield a circle to the left of a state's box, which it begins and ends at."""
    x = middle[0] - half[0] - 0.8 * LABEL_ROOM
    for step in range(1, STEPS):
        turn = 2 * math.pi * step / STEPS
        yield x + LABEL_ROOM * math.cos(turn), middle[1] + LABEL_ROOM * math.sin(turn)


def _bounds(arrows: list[Arrow]) -> tuple[float, float, float, float]:
    """Return the left, right, bottom and top edges of the arrows, with room around them."""
    along, up = zip(*(point for arrow in arrows for point in arrow.points), strict=True)
    return min(along) - EDGE, max(along) + 2 * EDGE, min(up) - EDGE, max(up) + EDGE


def _draw_arrows(axes: "Axes", arrows: list[Arrow], taken: list[Point]) -> None:
    placed = list(taken)
    for arrow in arrows:
        style = line_style(arrow.value)
        along, up = zip(*arrow.points, strict=True)
        axes.plot(along, up, color=style.colour, linestyle=style.strokes, linewidth=1.3, zorder=2)
        tip = {"arrowstyle": "-|>,head_width=0.22,head_length=0.5", "color": style.colour}
        before, end = arrow.points[-2:]
        axes.annotate("", end, before, arrowprops=tip, zorder=3)
        label = arrow.label_place(placed)
        placed.append(label)
        face = {"boxstyle": "circle,pad=0.12", "facecolor": "white", "edgecolor": style.colour}
        axes.text(*label, arrow.label, ha="center", va="center", size=8, bbox=face, zorder=3)


def _draw_states(axes: "Axes", hands: HandLimits, places: dict[State, Point]) -> None:
    """Draw the boxes of the states; that of the ground state is heavier."""
    for state, (x, y) in places.items():
        face = {
            "boxstyle": "round,pad=0.3",
            "facecolor": "white",
            "edgecolor": "black",
            "linewidth": 2.4 if is_ground(state) else 1.0,
        }
        axes.text(x, y, state_text(hands, state), ha="center", va="center", bbox=face, zorder=4)


def state_text(hands: HandLimits, state: State) -> str:
    """Return a state as digits, the next beat first; of pairs in brackets, the left hand first."""
    places = ["".join(map(str, due)).ljust(hands.farthest, "0") for due in state]
    return places[0] if hands.kind == "async" else f"({','.join(places)})"
