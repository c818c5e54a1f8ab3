"""What several commands do: read their subject, report what is wrong with it, and write lists.

A text that cannot be thrown gets a sentence and a small picture of the place. Lists are written
while they are still being found. Ctrl-C keeps what was found: the lines are there, and a JSON
document is closed.
"""

import signal
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import chain
from types import FrameType
from typing import TYPE_CHECKING, Any, Final

import click

from throwcount.caller.options.settings import given_in_settings
from throwcount.caller.terminal.printing import Document, show_json
from throwcount.caller.terminal.text import AS_JSON, WrongInputError, can_print, terminal_size
from throwcount.engine.errors import FlightError, MalformedError, PatternError
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.notation import MARK_WIDTH, mark, parse
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.patterns.rules import Meeting, first_meeting

if TYPE_CHECKING:
    from pathlib import Path

    from rich.text import Text

    from throwcount.caller.options.request import Request
    from throwcount.caller.pictures.ladder import LadderLine
    from throwcount.caller.pieces.routine import RoutineSource
    from throwcount.caller.session_file.reading import SessionFile
    from throwcount.engine.patterns.rows import HandLimits


def wrong_document(text: str, error: PatternError) -> Document:
    """Return why a text cannot be thrown, for JSON."""
    return {
        "pattern": text,
        "valid": False,
        "problem": error.problem,
        "at": error.at,
        "message": error.message,
    }


MEETING_MARK: Final = "X"
INDENT: Final = "  "


@contextmanager
def reporting_wrong_input(text: str) -> Iterator[None]:
    """Report what the engine raises inside about a text, with a picture for a wrong pattern.

    Raises
    ------
    WrongInputError
        With the sentence, and the JSON of a wrong pattern.
    """
    try:
        yield
    except PatternError as error:
        document = wrong_document(text, error)
        raise WrongInputError(wrong_pattern_page(text, error), document) from error
    except FlightError as error:
        raise WrongInputError(f"{error}{given_in_settings('ceiling', 'hands')}") from error


def wrong_pattern_page(text: str, error: PatternError) -> str:
    """Return what is wrong with `text`, and below it the place or the throws that meet.

    `error` was raised when the text was read.
    """
    from throwcount.caller.pictures.ladder import LINE_CHARACTERS, LINES, PLAIN_LINES

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
    pattern: Pattern, meeting: Meeting, line: "LadderLine", width: int
) -> "Iterator[Text]":
    """Yield the lines of a picture of throws that meet; none if it is wider than `width` columns.

    Each throw that lands has a row, named for its hand, with a mark where it lands.
    """
    from throwcount.caller.pictures.ladder import LABEL_WIDTH, cell_width, hand_rows, heading, row

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


def too_low(hands: "HandLimits", objects: int) -> str | None:
    """Return a sentence if the throws cannot keep these objects in the air, or else None."""
    lowest, highest = -(-objects // hands.capacity), hands.farthest * hands.places
    if lowest <= highest:
        return None
    return (
        f"{counted(objects, 'object')} take throws of at least {lowest}, as the mean throw is the "
        f"number of objects; these go up to {highest}."
    )


def write_lines(blocks: Iterable[str]) -> int:
    """Write blocks of one line or more, and return how many lines there are."""
    count = 0
    for lines in blocks:
        click.echo(lines)
        count += lines.count("\n") + 1
    return count


def write_json(
    blocks: Iterable[Sequence[Any]],
    name: str = "patterns",
    more: Callable[[], bool] | None = None,
    **before: object,
) -> None:
    """Write one JSON document with `before`, a list called `name`, and its count.

    The list comes in blocks, none of them empty. `more` tells at its end whether something was left
    out, which the document tells too; None where nothing can be.
    """
    import json  # most output is for people

    write_piece(json.dumps(before)[:-1] + (", " if before else "") + f'"{name}": [')
    count = 0
    try:
        with _interrupts_held() as hold:
            for block in blocks:
                hold(True)
                write_piece((", " if count else "") + json.dumps(block)[1:-1])
                count += len(block)
                hold(False)
    except KeyboardInterrupt:
        _close(count, None if more is None else True)
        raise
    _close(count, None if more is None else more())


def write_count(count: int, as_json: bool) -> None:
    """Write only how many patterns there are; in JSON the list stays empty."""
    if as_json:
        show_json({"patterns": [], "count": count})
    else:
        click.echo(count)


def count_up(blocks: Iterable[str], as_json: bool) -> None:
    """Count lines and write how many patterns they are, or were so far when stopped by Ctrl-C."""
    count = 0
    try:
        for lines in blocks:
            count += lines.count("\n") + 1
    except KeyboardInterrupt:
        write_count(count, as_json)
        raise
    write_count(count, as_json)


@contextmanager
def _interrupts_held() -> Iterator[Callable[[bool], None]]:
    """Hand out a function that holds Ctrl-C back, and lets it through again.

    Between the writing of a block and its counting, Ctrl-C would make the count wrong.
    """
    held = asked = False

    def interrupt(number: int, frame: FrameType | None) -> None:
        nonlocal asked
        asked = True
        if not held:
            signal.default_int_handler(number, frame)

    def hold(on: bool) -> None:
        nonlocal held
        held = on
        if asked and not on:
            raise KeyboardInterrupt

    if signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        yield hold  # Ctrl-C is ignored, as under nohup
        return
    signal.signal(signal.SIGINT, interrupt)
    try:
        yield hold
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def write_piece(text: str) -> None:
    """Write a piece of a document; what goes wrong after it cannot be told as a document, too."""
    click.get_current_context().meta[AS_JSON] = False
    click.echo(text, nl=False)


def _close(count: int, more: bool | None) -> None:
    told = "" if more is None else f', "more": {str(more).lower()}'
    write_piece(f'], "count": {count}{told}}}\n')


def read_subject(request: "Request") -> "Pattern | RoutineSource | SessionFile":
    """Return the pattern, the routine or the session that a request is about.

    Raises
    ------
    click.UsageError
        If an option does not fit the subject.
    WrongInputError, FaultyFileError
        If it cannot be thrown.
    """
    from throwcount.caller.options.request import (
        is_routine_file,
        refuse_with_routine,
        refuse_without_routine,
    )
    from throwcount.engine.patterns.rules import read

    if is_routine_file(request.subject):
        from pathlib import Path  # slow

        from throwcount.caller.pieces.routine import routine_source  # likewise
        from throwcount.caller.session_file.reading import is_session_file

        path = Path(request.subject)
        if is_session_file(path):
            return checked_session(path, request)
        refuse_with_routine(request)
        return routine_source(path, request)
    refuse_without_routine(request)
    with reporting_wrong_input(request.subject):
        pattern, _ = read(request.subject), request.room  # which may be lower than the hands
    return pattern


def checked_session(path: "Path", request: "Request") -> "SessionFile":
    """Return the session in a file, whose room is high enough; errors as in `read_subject`."""
    from throwcount.caller.options.request import refuse_without_routine
    from throwcount.caller.session_file.reading import read_session

    refuse_without_routine(request, "a session")
    session = read_session(path)
    with reporting_wrong_input(request.subject):
        _ = session.request(request).room
    for number, block in enumerate(session.blocks, 1):
        _refuse_typed(f"block {number}, “{block.title}”", block.request(request))
    return session


def _refuse_typed(place: str, request: "Request") -> None:
    """Raise `click.UsageError` if a typed option leaves a block without an end, or a length."""
    from throwcount.caller.options.request import STEPS

    if request.attempts is None and request.total_sets is None:
        raise click.UsageError(
            f"With --staircase, {place}, would go on without end; say how many sets with --sets N."
        )
    has_length = any((request.cycles, request.beats, request.seconds, request.sets))
    if request.to is not None and request.curve != STEPS and not has_length:
        raise click.UsageError(
            f"--to changes the tempo over a length, and {place}, has none; give it with --cycles, "
            "--beats or --seconds."
        )


def read_single(request: "Request") -> "Pattern | RoutineSource":
    """Return what `read_subject` does, and refuse a session, which is only played.

    Raises
    ------
    click.UsageError
        If it is a session.
    """
    subject = read_subject(request)
    if isinstance(subject, Pattern):
        return subject
    from throwcount.caller.session_file.reading import SessionFile  # slow

    if isinstance(subject, SessionFile):
        raise click.UsageError(
            f"{subject.path} is a session, with blocks to practise one after another; it is "
            f"played with `throwcount play {subject.path}`, and `throwcount plan {subject.path}` "
            "lays it out."
        )
    return subject
