"""What is said of a text that cannot be thrown: a sentence, and a small picture of the place."""

from collections.abc import Iterator
from contextlib import contextmanager
from itertools import chain
from typing import Final

import click
from rich.text import Text

from caller.console.printable import can_print, terminal_size
from caller.console.terminal import show_json
from caller.errors import WrongInputError
from caller.patterns.pattern_document import wrong_document
from caller.patterns.picture import (
    LABEL_WIDTH,
    LINE_CHARACTERS,
    LINES,
    PLAIN_LINES,
    LadderLine,
    cell_width,
    hand_rows,
    heading,
    row,
)
from engine.errors import EngineError, MalformedError, PatternError
from engine.patterns.jugglable import Meeting, first_meeting
from engine.patterns.notation import MARK_WIDTH, mark, parse
from engine.patterns.pattern import Pattern

MEETING_MARK: Final = "X"
INDENT: Final = "  "


@contextmanager
def wrong_input_told(text: str, as_json: bool) -> Iterator[None]:
    """Tell what the engine raises inside, on the screen or as the one JSON document.

    `as_json` says whether JSON was asked for.

    Raises
    ------
    WrongInputError
        With the sentence and the picture for a wrong pattern.
    click.exceptions.Exit
        With the same status, when the JSON has told everything.
    """
    try:
        yield
    except EngineError as error:
        told, document = str(error), {"message": str(error)}
        if isinstance(error, PatternError):
            told, document = wrong_pattern_page(text, error), wrong_document(text, error)
        if not as_json:
            raise WrongInputError(told) from error
        show_json(document)
        raise click.exceptions.Exit(WrongInputError.exit_code) from error


def wrong_pattern_page(text: str, error: PatternError) -> str:
    """Return what is wrong with `text`, and under it the place or the throws that meet.

    `error` is what reading it raised.
    """
    width = terminal_size().columns - len(INDENT)
    if isinstance(error, MalformedError):
        drawn = mark(text, error.at, min(MARK_WIDTH, width - 2)).splitlines() if text else []
    else:
        pattern = parse(text)
        meeting = first_meeting(pattern)
        line = LINES[0] if can_print(LINE_CHARACTERS, errors=True) else PLAIN_LINES[0]
        view = meeting_view(pattern, meeting, line, width) if meeting else iter(())
        drawn = [each.plain for each in view]
    blank = [""] if drawn else []
    return "\n".join(chain([error.message], blank, (INDENT + each for each in drawn)))


def meeting_view(
    pattern: Pattern, meeting: Meeting, line: LadderLine, width: int
) -> Iterator[Text]:
    """Yield the lines of the picture; none where it does not fit in `width` columns.

    Each throw that lands has a row, named for the hand that throws it, with a mark where it lands.
    """
    first = min(turn for (turn, _), _ in meeting.landing) * pattern.beats_per_turn
    last = meeting.site[0] * pattern.beats_per_turn
    beats = range(first, last + 1)
    cell = cell_width(pattern.turns)
    if LABEL_WIDTH + len(beats) * cell > width:
        return
    yield heading(beats, cell, pattern.period)
    yield from hand_rows(pattern, beats, cell)
    for (turn, place), throw in meeting.landing:
        column = (turn * pattern.beats_per_turn - first) * cell
        reach = (last - first) * cell - column - len(str(throw))
        characters = " " * column + str(throw) + line.along * reach + MEETING_MARK
        yield row(pattern.hand(turn, place), characters, "")
