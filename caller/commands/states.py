"""`throwcount states`: the states of so many objects, and the throws between them."""

from math import comb, prod
from pathlib import Path
from typing import Final

import click

from caller.commands import HELP_OPTIONS
from caller.console.picture_file import force_option, picture_option
from caller.console.terminal import counted, show, show_json
from caller.options.arguments import (
    PatternCommand,
    WholeRange,
    from_one_hand_option,
    json_option,
    objects_argument,
    together_option,
)
from caller.patterns.pattern_list import write_json, write_lines
from caller.patterns.state_picture import draw_states
from caller.patterns.states_page import (
    dot_lines,
    open_document,
    open_page,
    state_document,
    states_page,
)
from caller.patterns.wrong_pattern import wrong_input_told
from engine.errors import EngineError
from engine.finding.state_graph import due_now, number_of_states, states_of, throws_of
from engine.patterns.pattern import HIGHEST_VALUE
from engine.patterns.rows import HandLimits
from engine.patterns.states import State, trimmed

MOST_ROWS: Final = 500
"""States in a table, at most."""

MOST_STATES: Final = 200_000
"""States in a file for another program, at most."""

EPILOG: Final = """\
\b
Examples:
  throwcount states 4 --highest 7
  throwcount states --from 11011 --highest 7
  throwcount states 4 --highest 6 --picture states.svg
  throwcount states 4 --highest 7 --dot > states.dot
  throwcount states 3 --highest 6 --together
  throwcount states --from "(11,01)" --highest 6 --together
"""


@click.command("states", cls=PatternCommand, epilog=EPILOG, context_settings=HELP_OPTIONS)
@objects_argument
@click.option(
    "--highest",
    type=WholeRange(1, HIGHEST_VALUE),
    metavar="H",
    required=True,
    help="The highest throw.",
)
@together_option
@from_one_hand_option
@click.option(
    "--from",
    "state",
    metavar="STATE",
    help="Only the throws from this state, such as 11011: a 1 for each beat on which an object is "
    "due, the next beat first. With --together the left hand's and the right's, as in (11,01).",
)
@click.option("--dot", is_flag=True, help="Print the graph in the DOT language of Graphviz.")
@picture_option
@force_option
@json_option
def states_command(  # noqa: PLR0913, PLR0917 - click gives every option as an argument of its own
    objects: int | None,
    highest: int,
    together: bool,
    from_one_hand: int | None,
    state: str | None,
    dot: bool,
    picture: Path | None,
    force: bool,
    as_json: bool,
) -> None:
    """Show the states and the throws between them.

    A state is the beats on which objects are due. Patterns are the ways from a state back to
    itself. With --from each throw is told: where it leads, or why it is not open. With
    --from-one-hand a state says how many objects are due on each beat, and with --together it has
    a row for the left hand and one for the right, each of every second beat.
    """
    if dot and (as_json or state is not None):
        raise click.UsageError("--dot is a form of its own: it takes no --json and no --from.")
    if picture is not None and state is not None:
        raise click.UsageError("--picture draws all states: it takes no --from.")
    hands = HandLimits("sync" if together else "async", highest, from_one_hand or 1)
    if state is not None:
        with wrong_input_told(state, as_json):
            start = _read_state(state, hands, objects)
            _check_turns(hands, start)
        if as_json:
            show_json(open_document(hands, start))
        else:
            show(*open_page(hands, start))
        return
    if objects is None:
        raise click.UsageError(
            "Which states? Give the number of objects, as in `throwcount states 4 --highest 7`, "
            "or one state with --from STATE."
        )
    with wrong_input_told("", as_json):
        _check_size(hands, objects, MOST_STATES if dot or as_json else MOST_ROWS)
        if picture is not None:
            draw_states(hands, objects, picture, overwrite=force)
    if dot:
        write_lines(dot_lines(hands, objects))
    elif as_json:
        documents = (state_document(hands, one, objects) for one in states_of(hands, objects))
        write_json(documents, "states", objects=objects, max=highest)
    else:
        show(*states_page(hands, objects))


def _check_size(hands: HandLimits, objects: int, most: int) -> None:
    """Return only if the states can be listed."""
    number = number_of_states(hands, objects)
    if not number:
        raise EngineError(
            f"{counted(objects, 'object')} take throws of at least {-(-objects // hands.capacity)}"
            f", as the mean throw is the number of objects; these go up to "
            f"{hands.farthest * hands.places}."
        )
    if number > most:
        larger = "" if most > MOST_ROWS else f" (--json and --dot take {MOST_STATES:,})"
        raise EngineError(
            f"There are {number:,} states, and at most {most:,} are listed{larger}: a lower "
            "--highest makes them fewer, and --from STATE shows one of them."
        )


def _check_turns(hands: HandLimits, state: State) -> None:
    """Return only if the turns that might be open from a state can be listed."""
    each = len(throws_of(hands))
    number = prod(comb(each + due_now(due) - 1, due_now(due)) for due in state)
    if number > MOST_STATES:
        raise EngineError(
            f"There are up to {number:,} ways to throw from this state, and at most "
            f"{MOST_STATES:,} are listed: a lower --highest makes them fewer."
        )


def _read_state(text: str, hands: HandLimits, objects: int | None) -> State:
    """Return the state written in `text`."""
    rows = _rows(text, hands)
    state = tuple(trimmed(tuple(map(int, row))) for row in rows)
    latest = max(map(len, state)) * hands.places - hands.places
    if latest >= hands.farthest * hands.places:
        raise EngineError(
            f"In this state an object is due {counted(latest, 'beat')} after the next one, and a "
            f"throw of at most {hands.highest} cannot have put it there."
        )
    held = sum(map(sum, state))
    if objects not in {None, held}:
        raise EngineError(f"This state has {counted(held, 'object')}, and not {objects} as given.")
    return state


def _rows(text: str, hands: HandLimits) -> list[str]:
    """Return the digits of a state, one row for each hand that throws in a turn.

    Raises
    ------
    EngineError
        If they are not such a state.
    """
    within = text.removeprefix("(").removesuffix(")") if hands.kind == "sync" else text
    rows = [row.strip() for row in within.split(",")] if hands.kind == "sync" else [text]
    digits = {str(number) for number in range(hands.capacity + 1)}
    if len(rows) == hands.places and all(row and digits.issuperset(row) for row in rows):
        return rows
    if hands.kind == "sync":
        raise EngineError(
            "Of hands that throw together a state is two rows, the left hand's and the right "
            f"hand's, such as (11,01), of digits up to {hands.capacity}: the objects that are due "
            "on each of their beats, the next one first."
        )
    if hands.capacity > 1:
        raise EngineError(
            f"A state is a row of digits up to {hands.capacity}, such as 2101: how many objects "
            "are due on each beat, the next beat first."
        )
    raise EngineError(
        "A state is a row of 1 and 0, such as 11011: a 1 for each beat on which an object is "
        "due, the next beat first."
    )
