"""A picture of the beats in characters: what each hand throws, and the path of each object.

Beats run from left to right, one cell each. The two upper rows are the hands. Below them each
object has two rows of its own, one for either hand: its throws stand where it is thrown, and a
line leads from each throw to the next, changing rows when the object changes hands. Lines
differ in their characters as well as in colour.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from rich.text import Text

from throwcount.engine.patterns.pattern import HIGHEST_VALUE, Hand, Pattern, Throws, Turn
from throwcount.engine.timing.objects import Juggle
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady

HANDS: Final[tuple[Hand, Hand]] = ("right", "left")
LABEL_WIDTH: Final = 8
NARROWEST_CELL: Final = 3
WIDEST_TEXT: Final = 9
MOST_WINDOWS: Final = 2
MOST_OBJECTS: Final = 8
COLOURS: Final = ("cyan", "magenta", "green", "yellow", "blue", "red")


@dataclass(frozen=True, slots=True)
class LadderLine:
    """The characters of one object's path."""

    along: str
    """Repeated along a row."""
    leaving: dict[Hand, str]
    entering: dict[Hand, str]
    """`leaving` and `entering`: for each hand, the last character in its row before the object
    changes hands, and the first after."""

    @property
    def characters(self) -> str:
        """All characters of the line."""
        return "".join([self.along, *self.leaving.values(), *self.entering.values()])


def _line(along: str, *corners: str) -> LadderLine:
    """Return a line from its sign and its corners: out of and into right, out of and into left."""
    leave_right, enter_right, leave_left, enter_left = corners
    return LadderLine(
        along,
        {"right": leave_right, "left": leave_left},
        {"right": enter_right, "left": enter_left},
    )


LINES: Final = (
    _line("─", "╮", "╭", "╯", "╰"),
    _line("═", "╗", "╔", "╝", "╚"),
    _line("┄", "╮", "╭", "╯", "╰"),
    _line("━", "┓", "┏", "┛", "┗"),
    _line("╌", "┐", "┌", "┘", "└"),
    _line("┅", "┓", "┏", "┛", "┗"),
)
PLAIN_LINES: Final = (
    _line("-", "+", "+", "+", "+"),
    _line("=", "+", "+", "+", "+"),
    _line("~", "+", "+", "+", "+"),
)
LINE_CHARACTERS: Final = "".join(line.characters for line in LINES)
"""All that `LINES` are drawn with; where they cannot be printed, `PLAIN_LINES` can."""

WAITING: Final = "."
BAR: Final = "|"
CUT: Final = ".."


@dataclass(frozen=True, slots=True)
class Stop:
    """An object is thrown: on which beat, by which hand, and how."""

    beat: int
    hand: Hand
    throw: str


def paths(pattern: Pattern, beats: int, first: Hand = "right") -> dict[str, list[Stop]]:
    """Return the throws of each object on the first `beats` beats, and at least one after them."""
    stops: dict[str, list[Stop]] = {}
    walked = beats + HIGHEST_VALUE + 1
    for turn in Juggle(Run((Part(pattern, walked),), steady(60), first)):
        for hand in turn.hands:
            for throw, name in zip(hand.throws, hand.objects, strict=True):
                stops.setdefault(name, []).append(Stop(turn.beat, hand.hand, str(throw)))
    return stops


def written(throws: Throws) -> str:
    """Return what one hand throws at once, in notation, or as much of it as is drawn."""
    names = [str(throw) for throw in throws] or ["0"]
    text = names[0] if len(names) == 1 else f"[{''.join(names)}]"
    return text if len(text) <= WIDEST_TEXT else text[: WIDEST_TEXT - len(CUT)] + CUT


@dataclass(frozen=True, slots=True)
class Frame:
    """How a picture is laid out."""

    beats: int
    """How many are drawn in all."""
    cell: int
    """Columns of text for each beat."""
    window: int
    """Beats side by side."""


def cell_width(turns: Iterable[Turn]) -> int:
    """Return the columns that each beat needs so that no two throws of a hand touch."""
    widest = max(len(written(throws)) for turn in turns for throws in turn)
    return max(NARROWEST_CELL, widest + 1)


def frame(pattern: Pattern, longest_path: int, width: int) -> Frame:
    """Return the layout for a terminal `width` columns wide.

    Drawn are `longest_path` beats, in which every object takes its whole path, and twice as many
    where they fit side by side. What takes many windows is only begun, in one.
    """
    cell = cell_width(pattern.turns)
    window = max((width - LABEL_WIDTH) // cell, 1)
    wanted = max(longest_path, pattern.period, 1)
    if 2 * wanted <= window:
        wanted *= 2
    if wanted > MOST_WINDOWS * window:
        wanted = window
    return Frame(wanted, cell, window)


class Canvas:
    """Two rows of characters, for the hands, over the beats of one window."""

    def __init__(self, beats: range, cell: int) -> None:
        self._start, self._cell = beats.start, cell
        self._rows = {hand: [" "] * (len(beats) * cell) for hand in HANDS}

    def column(self, beat: int) -> int:
        """Return the column of `beat`, which may lie outside the window."""
        return (beat - self._start) * self._cell

    def put(self, hand: Hand, column: int, characters: str) -> None:
        """Write `characters` into a row, as far as they lie in the window."""
        row = self._rows[hand]
        for place, character in enumerate(characters, column):
            if 0 <= place < len(row):
                row[place] = character

    def row(self, hand: Hand) -> str:
        """Return a row without the blanks at its end."""
        return "".join(self._rows[hand]).rstrip()


def draw_path(canvas: Canvas, stops: list[Stop], line: LadderLine) -> None:
    """Draw an object's throws, and the lines that lead from each to the next."""
    for beat in range(stops[0].beat):
        canvas.put(stops[0].hand, canvas.column(beat), WAITING)
    for here, there in pairwise(stops):
        start, end = canvas.column(here.beat), canvas.column(there.beat)
        canvas.put(here.hand, start, here.throw + line.along * (end - start - len(here.throw)))
        if here.hand != there.hand:
            canvas.put(here.hand, end - 1, line.leaving[here.hand])
            canvas.put(there.hand, end - 1, line.entering[there.hand])


def picture(
    pattern: Pattern,
    objects: dict[str, list[Stop]],
    layout: Frame,
    lines: tuple[LadderLine, ...] = LINES,
    first: Hand = "right",
) -> Iterator[Text]:
    """Yield the lines of the picture, window after window with a blank line between.

    Parameters
    ----------
    pattern
        A pattern that can be thrown.
    objects
        From `paths`, over at least the beats of `layout`; the first few are drawn.
    layout
        From `frame`.
    lines
        The characters for the objects in turn, `LINES` or `PLAIN_LINES`.
    first
        The hand of beat 0 where the hands alternate.
    """
    for start in range(0, layout.beats, layout.window):
        if start:
            yield Text()
        beats = range(start, min(start + layout.window, layout.beats))
        yield heading(beats, layout.cell, pattern.period)
        yield from hand_rows(pattern, beats, layout.cell, first)
        for index, name in enumerate(list(objects)[:MOST_OBJECTS]):
            canvas = Canvas(beats, layout.cell)
            draw_path(canvas, objects[name], lines[index % len(lines)])
            for hand in HANDS:
                label = f"{name if hand == HANDS[0] else '':<2}{hand}"
                yield row(label, canvas.row(hand), COLOURS[index % len(COLOURS)])


def row(label: str, characters: str, style: str, gutter: str = " ") -> Text:
    """Return one line of a picture: a label, a character between, and characters over the beats."""
    return Text(label.ljust(LABEL_WIDTH - 1) + gutter, no_wrap=True).append(characters, style)


def heading(beats: range, cell: int, period: int) -> Text:
    """Return the numbers of the beats, as far as they have room; a bar opens a repetition."""
    characters = ""
    for beat in beats:
        column = (beat - beats.start) * cell
        if len(characters) < column or beat == beats.start:
            characters = characters.ljust(column) + str(beat)
        if beat % period == 0 and column and len(characters) >= column:
            characters = characters[: column - 1] + BAR + characters[column:]
    return row("beat", characters, "dim", BAR if beats.start % period == 0 else " ")


def hand_rows(pattern: Pattern, beats: range, cell: int, first: Hand = "right") -> Iterator[Text]:
    """Yield a line for each hand with its throws; a hand whose turn it is not has none."""
    canvas = Canvas(beats, cell)
    for beat in beats:
        turn, between = divmod(beat, pattern.beats_per_turn)
        if not between:
            for place, throws in enumerate(pattern.turns[turn % len(pattern.turns)]):
                hand = pattern.hand(turn, place, first)
                canvas.put(hand, canvas.column(beat), written(throws))
    for hand in HANDS:
        yield row(hand, canvas.row(hand), "bold")
