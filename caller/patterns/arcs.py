"""Where the arcs of a picture go: from throw to throw, in beats along and in beats up.

One unit is a beat in both directions. The line of the right hand lies at height 0, that of the
left hand below it.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, TypeAlias

from caller.patterns.picture import Stop
from engine.patterns.pattern import HELD_VALUE, Hand

LANES: Final[Mapping[Hand, float]] = {"right": 0.0, "left": -1.0}
"""The height of each hand's line."""

RISE: Final = 0.5
"""How far a throw rises for each beat of its value."""

HIGHEST_ARC: Final = 12.0
"""How far the highest arc rises at most; all are flatter where it would rise further."""

HELD_RISE: Final = 0.35
APART: Final = 0.45
"""Between arcs that two objects take at once."""

CLOSE: Final = 0.6
"""Within this distance two letters would touch."""

PLACES: Final = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)
"""Where a letter may stand on its arc, as shares of its length, the best first."""

Point: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Arc:
    """The way of an object from a throw to its next."""

    name: str
    """The object's letter."""
    index: int
    """The object's place among all, from 0."""
    start: Point
    """The throw that it begins with."""
    end: Point
    """The next throw of the object."""
    rise: float
    """How far its middle lies above the straight line between them."""

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
    """Return the arcs of all throws before a beat, in the order of the objects.

    `objects` are the throws of each object, from `caller.patterns.picture.paths`, one of them on
    beat `beats` or later. `beats` is how many beats are drawn. `highest` is the highest value
    thrown.
    """
    rise = min(RISE, HIGHEST_ARC / max(highest, 1))
    taken: dict[tuple[Point, Point], int] = {}
    found = []
    for index, (name, stops) in enumerate(objects.items()):
        for here, there in pairwise(stops):
            if here.beat >= beats:
                break
            ends = _point(here), _point(there)
            together = taken[ends] = taken.get(ends, -1) + 1
            found.append(Arc(name, index, *ends, _rise(here, there, rise) + APART * together))
    return found


def letter_places(drawn: list[Arc], beats: range) -> Iterator[tuple[Arc, Point]]:
    """Yield a place for the letter of each arc that is seen on these beats, apart from others."""
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
    return float(stop.beat), LANES[stop.hand]


def _rise(here: Stop, there: Stop, rise: float) -> float:
    held = here.hand == there.hand and there.beat - here.beat == HELD_VALUE
    return HELD_RISE if held else rise * (there.beat - here.beat)
