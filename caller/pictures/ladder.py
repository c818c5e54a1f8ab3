"""A picture of the beats in text: what each hand throws, and the path of each object.

Beats run from left to right, one cell each. The upper two rows are the hands. Below them, each
object has two rows, one for either hand: its throws stand where they are made, and a line leads
from each throw to the next, changing rows when the object changes hands. Lines differ in their
characters as well as in colour.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from rich.text import Text

from throwcount.engine.patterns.pattern import HIGHEST_VALUE, Hand, Pattern, Throws, Turn
from throwcount.engine.timing.objects import Juggle
from throwcount.engine.timing.run import Part

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

    characters: str
    """One to repeat along a row, then the corners where the path leaves the right hand's row,
    enters it, leaves the left hand's row, and enters it."""

    @property
    def along(self) -> str:
        """The character that is repeated along a row."""
        return self.characters[0]

    def corner(self, hand: Hand, *, entering: bool) -> str:
        """Return the corner where the path enters or leaves a hand's row."""
        return self.characters[1 + 2 * HANDS.index(hand) + entering]


LINES: Final = tuple(map(LadderLine, ("─╮╭╯╰", "═╗╔╝╚", "┄╮╭╯╰", "━┓┏┛┗", "╌┐┌┘└", "┅┓┏┛┗")))
PLAIN_LINES: Final = tuple(map(LadderLine, ("-++++", "=++++", "~++++")))
LINE_CHARACTERS: Final = "".join(line.characters for line in LINES)
"""Everything that `LINES` are drawn with; where it cannot be printed, `PLAIN_LINES` can."""

WAITING: Final = "."
BAR: Final = "|"
CUT: Final = ".."


@dataclass(frozen=True, slots=True)
class Stop:
    """A throw of an object: its beat, its hand, and the throw in notation."""

    beat: int
    hand: Hand
    throw: str


def paths(pattern: Pattern, beats: int, first: Hand = "right") -> dict[str, list[Stop]]:
    """Return the throws of each object on the first `beats` beats and at least one after."""
    stops: dict[str, list[Stop]] = {}
    walked = beats + HIGHEST_VALUE + 1
    for turn in Juggle([Part(pattern, walked)], first):
        for (hand, throws), names in zip(turn.hands, turn.objects, strict=True):
            for throw, name in zip(throws, names, strict=True):
                stops.setdefault(name, []).append(Stop(turn.beat, hand, str(throw)))
    return stops


def written(throws: Throws) -> str:
    """Return what one hand throws at once, in notation, cut to `WIDEST_TEXT` characters."""
    names = [str(throw) for throw in throws] or ["0"]
    text = names[0] if len(names) == 1 else f"[{''.join(names)}]"
    return text if len(text) <= WIDEST_TEXT else text[: WIDEST_TEXT - len(CUT)] + CUT


@dataclass(frozen=True, slots=True)
class Frame:
    """The layout of a picture."""

    beats: int
    """Beats that are drawn in all."""
    cell: int
    """Columns of text for each beat."""
    window: int
    """Beats side by side."""


def cell_width(turns: Iterable[Turn]) -> int:
    """Return the columns that a beat needs so that no two throws of a hand touch."""
    widest = max(len(written(throws)) for turn in turns for throws in turn)
    return max(NARROWEST_CELL, widest + 1)


def frame(pattern: Pattern, longest_path: int, width: int) -> Frame:
    """Return the layout for a terminal `width` columns wide.

    `longest_path` beats are drawn, in which every object takes its whole path; twice as many if
    they fit side by side; but only one window full if they need more than `MOST_WINDOWS`.
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
    """Two rows of characters, one for each hand, over the beats of one window."""

    def __init__(self, beats: range, cell: int) -> None:
        self._start, self._cell = beats.start, cell
        self._rows = {hand: [" "] * (len(beats) * cell) for hand in HANDS}

    def column(self, beat: int) -> int:
        """Return the column of `beat`, which may lie outside the window."""
        return (beat - self._start) * self._cell

    def put(self, hand: Hand, column: int, characters: str) -> None:
        """Write `characters` into a row, as far as the window reaches."""
        row = self._rows[hand]
        for place, character in enumerate(characters, column):
            if 0 <= place < len(row):
                row[place] = character

    def row(self, hand: Hand) -> str:
        """Return a row without trailing blanks."""
        return "".join(self._rows[hand]).rstrip()


def _draw_path(canvas: Canvas, stops: list[Stop], line: LadderLine) -> None:
    """Draw an object's throws and the line from each to the next."""
    for beat in range(stops[0].beat):
        canvas.put(stops[0].hand, canvas.column(beat), WAITING)
    for here, there in pairwise(stops):
        start, end = canvas.column(here.beat), canvas.column(there.beat)
        canvas.put(here.hand, start, here.throw + line.along * (end - start - len(here.throw)))
        if here.hand != there.hand:
            canvas.put(here.hand, end - 1, line.corner(here.hand, entering=False))
            canvas.put(there.hand, end - 1, line.corner(there.hand, entering=True))


def picture(
    pattern: Pattern,
    objects: dict[str, list[Stop]],
    layout: Frame,
    lines: tuple[LadderLine, ...] = LINES,
    first: Hand = "right",
) -> Iterator[Text]:
    """Yield the lines of text for a pattern that can be thrown, a blank one between two windows.

    `objects` come from `paths`, over at least the beats of `layout`; the first `MOST_OBJECTS` are
    drawn, with `lines` in turn. `first` is the hand of beat 0 where the hands alternate.
    """
    for start in range(0, layout.beats, layout.window):
        if start:
            yield Text()
        beats = range(start, min(start + layout.window, layout.beats))
        yield heading(beats, layout.cell, pattern.period)
        yield from hand_rows(pattern, beats, layout.cell, first)
        for index, name in enumerate(list(objects)[:MOST_OBJECTS]):
            canvas = Canvas(beats, layout.cell)
            _draw_path(canvas, objects[name], lines[index % len(lines)])
            for hand in HANDS:
                label = f"{name if hand == HANDS[0] else '':<2}{hand}"
                yield row(label, canvas.row(hand), COLOURS[index % len(COLOURS)])


def row(label: str, characters: str, style: str, gutter: str = " ") -> Text:
    """Return a line of a picture: a label, the character after it, and those over the beats."""
    return Text(label.ljust(LABEL_WIDTH - 1) + gutter, no_wrap=True).append(characters, style)


def heading(beats: range, cell: int, period: int) -> Text:
    """Return the numbers of the beats that have room; a bar opens each repetition."""
    characters = ""
    for beat in beats:
        column = (beat - beats.start) * cell
        if len(characters) < column or beat == beats.start:
            characters = characters.ljust(column) + str(beat)
        if beat % period == 0 and column and len(characters) >= column:
            characters = characters[: column - 1] + BAR + characters[column:]
    return row("beat", characters, "dim", BAR if beats.start % period == 0 else " ")


def hand_rows(pattern: Pattern, beats: range, cell: int, first: Hand = "right") -> Iterator[Text]:
    """Yield a line for each hand, with what it throws on the beats that are its turn."""
    canvas = Canvas(beats, cell)
    for beat, hand, throws in thrown(pattern, beats, first):
        canvas.put(hand, canvas.column(beat), throws)
    for hand in HANDS:
        yield row(hand, canvas.row(hand), "bold")


def thrown(pattern: Pattern, beats: range, first: Hand) -> Iterator[tuple[int, Hand, str]]:
    """Yield each turn of a hand on some beats: the beat, the hand, and its throws in notation."""
    for beat in beats:
        turn, between = divmod(beat, pattern.beats_per_turn)
        if not between:
            for place, throws in enumerate(pattern.turns[turn % len(pattern.turns)]):
                yield beat, pattern.hand(turn, place, first), written(throws)
