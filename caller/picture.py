"""A picture of the beats in signs: what each hand throws, and the path of each object.

Beats run from left to right, one cell each. The two upper rows are the hands. Below them each
object has two rows of its own, one for either hand: its throws stand where it is thrown, and a
line leads from each throw to the next, changing rows when the object changes hands. Lines
differ in their signs as well as in colour.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

from rich.text import Text

from engine.objects import Juggle
from engine.pattern import HIGHEST_VALUE, Hand, Pattern, Throw
from engine.run import Part, Run
from engine.tempo import steady

HANDS: Final[tuple[Hand, Hand]] = ("right", "left")
LABEL_WIDTH: Final = 8
NARROWEST_CELL: Final = 3
MOST_WINDOWS: Final = 2
MOST_OBJECTS: Final = 8
COLOURS: Final = ("cyan", "magenta", "green", "yellow", "blue", "red")


@dataclass(frozen=True, slots=True)
class Line:
    """The signs of one object's path.

    Parameters
    ----------
    along
        Repeated along a row.
    leaving, entering
        For each hand, the last sign in its row before the object changes hands, and the first
        after.
    """

    along: str
    leaving: dict[Hand, str]
    entering: dict[Hand, str]


def _line(along: str, corners: str) -> Line:
    """Return a line from its sign and its corners: out of and into right, out of and into left."""
    leave_right, enter_right, leave_left, enter_left = corners
    return Line(
        along,
        {"right": leave_right, "left": leave_left},
        {"right": enter_right, "left": enter_left},
    )


LINES: Final = (
    _line("─", "╮╭╯╰"),
    _line("═", "╗╔╝╚"),
    _line("┄", "╮╭╯╰"),
    _line("━", "┓┏┛┗"),
    _line("╌", "┐┌┘└"),
    _line("┅", "┓┏┛┗"),
)
PLAIN_LINES: Final = (_line("-", "++++"), _line("=", "++++"), _line("~", "++++"))
WAITING: Final = "."
BAR: Final = "|"


@dataclass(frozen=True, slots=True)
class Stop:
    """An object is thrown: on which beat, by which hand, and how."""

    beat: int
    hand: Hand
    throw: str


@dataclass(frozen=True)
class Score:
    """What is drawn: the throws of each hand on each beat, and the stops of each object."""

    hands: dict[tuple[int, Hand], str] = field(default_factory=dict)
    objects: dict[str, list[Stop]] = field(default_factory=dict)


def score(pattern: Pattern, beats: int, first: Hand = "right") -> Score:
    """Return what is thrown on the first `beats` beats, and how each object goes on after them."""
    drawn = Score()
    walked = beats + HIGHEST_VALUE + 1
    for turn in Juggle(Run((Part(pattern, walked),), steady(60), first)):
        for hand in turn.hands:
            drawn.hands[turn.beat, hand.hand] = _written(hand.throws)
            for throw, name in zip(hand.throws, hand.objects, strict=True):
                drawn.objects.setdefault(name, []).append(Stop(turn.beat, hand.hand, str(throw)))
    return drawn


def _written(throws: tuple[Throw, ...]) -> str:
    """Return the throws of one hand in notation."""
    names = [str(throw) for throw in throws] or ["0"]
    return names[0] if len(names) == 1 else f"[{''.join(names)}]"


@dataclass(frozen=True, slots=True)
class Frame:
    """How a picture is laid out.

    Parameters
    ----------
    beats
        How many are drawn in all.
    cell
        Columns a beat.
    window
        Beats side by side.
    """

    beats: int
    cell: int
    window: int


def frame(pattern: Pattern, longest_orbit: int, width: int) -> Frame:
    """Return the layout for a terminal `width` columns wide.

    Drawn are as many beats as the longest orbit lasts, so that every object's path is seen
    whole, and twice as many where they fit side by side; never more than a few windows.
    """
    widest = max(len(_written(throws)) for turn in pattern.turns for throws in turn)
    cell = max(NARROWEST_CELL, widest + 1)
    window = max((width - LABEL_WIDTH) // cell, 1)
    wanted = max(longest_orbit, pattern.period, 1)
    if 2 * wanted <= window:
        wanted *= 2
    return Frame(min(wanted, MOST_WINDOWS * window), cell, window)


class Canvas:
    """Two rows of signs, for the hands, over the beats of one window."""

    def __init__(self, start: int, beats: int, cell: int) -> None:
        self._start, self._cell = start, cell
        self._rows = {hand: [" "] * (beats * cell) for hand in HANDS}

    def column(self, beat: int) -> int:
        """Return the column of `beat`, which may lie outside the window."""
        return (beat - self._start) * self._cell

    def put(self, hand: Hand, column: int, signs: str) -> None:
        """Write `signs` into a row, as far as they lie in the window."""
        row = self._rows[hand]
        for place, sign in enumerate(signs, column):
            if 0 <= place < len(row):
                row[place] = sign

    def row(self, hand: Hand) -> str:
        """Return a row without the blanks at its end."""
        return "".join(self._rows[hand]).rstrip()


def draw_path(canvas: Canvas, stops: list[Stop], line: Line) -> None:
    """Draw an object's throws, and the lines that lead from each to the next."""
    for beat in range(stops[0].beat):
        canvas.put(stops[0].hand, canvas.column(beat), WAITING)
    for here, there in pairwise(stops):
        start, end = canvas.column(here.beat), canvas.column(there.beat)
        canvas.put(here.hand, start, here.throw + line.along * (end - start - len(here.throw)))
        if here.hand != there.hand:
            canvas.put(here.hand, end - 1, line.leaving[here.hand])
            canvas.put(there.hand, end - 1, line.entering[there.hand])


def picture(drawn: Score, layout: Frame, period: int, lines: tuple[Line, ...]) -> Iterator[Text]:
    """Yield the lines of the picture, window after window with a blank line between.

    Parameters
    ----------
    drawn
        Covers at least the beats of `layout`.
    layout
        From `frame`.
    period
        Beats in a repetition; a bar opens each.
    lines
        The signs for the objects in turn, `LINES` or `PLAIN_LINES`.
    """
    for start in range(0, layout.beats, layout.window):
        if start:
            yield Text()
        beats = range(start, min(start + layout.window, layout.beats))
        yield _heading(beats, layout.cell, period)
        yield from _hand_rows(drawn, beats, layout.cell)
        for index, name in enumerate(list(drawn.objects)[:MOST_OBJECTS]):
            canvas = Canvas(start, len(beats), layout.cell)
            draw_path(canvas, drawn.objects[name], lines[index % len(lines)])
            for hand in HANDS:
                label = f"{name if hand == HANDS[0] else '':<2}{hand}"
                yield _row(label, canvas.row(hand), COLOURS[index % len(COLOURS)])


def _row(label: str, signs: str, style: str, gutter: str = " ") -> Text:
    return Text(label.ljust(LABEL_WIDTH - 1) + gutter, no_wrap=True).append(signs, style)


def _heading(beats: range, cell: int, period: int) -> Text:
    """Return the numbers of the beats, as far as they have room, and the bars."""
    signs = ""
    for beat in beats:
        column = (beat - beats.start) * cell
        if len(signs) < column or beat == beats.start:
            signs = signs.ljust(column) + str(beat)
        if beat % period == 0 and column and len(signs) >= column:
            signs = signs[: column - 1] + BAR + signs[column:]
    return _row("beat", signs, "dim", BAR if beats.start % period == 0 else " ")


def _hand_rows(drawn: Score, beats: range, cell: int) -> Iterator[Text]:
    canvas = Canvas(beats.start, len(beats), cell)
    for beat in beats:
        for hand in HANDS:
            canvas.put(hand, canvas.column(beat), drawn.hands.get((beat, hand), ""))
    for hand in HANDS:
        yield _row(hand, canvas.row(hand), "bold")
