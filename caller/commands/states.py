"""`throwcount states`: the states of so many objects, and the throws between them."""

import re
from math import comb
from pathlib import Path
from typing import Final

import click

from caller.commands import HELP_OPTIONS
from caller.console.picture_file import force_option, picture_option
from caller.console.terminal import counted, show, show_json
from caller.options.arguments import WholeRange, json_option, objects_option
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
from engine.finding.state_graph import all_states
from engine.patterns.pattern import HIGHEST_VALUE

MOST_ROWS: Final = 500
"""States in a table, at most."""

MOST_STATES: Final = 200_000
"""States in a file for another program, at most."""

SIGNS: Final = re.compile("[01]+")

EPILOG: Final = """\
\b
Examples:
  throwcount states --objects 3 --max 5
  throwcount states --from 1101 --max 6
  throwcount states --objects 3 --max 5 --picture states.svg
  throwcount states --objects 3 --max 5 --dot > states.dot
"""


@click.command("states", epilog=EPILOG, context_settings=HELP_OPTIONS)
@objects_option
@click.option(
    "--max",
    "highest",
    type=WholeRange(1, HIGHEST_VALUE),
    metavar="H",
    required=True,
    help="The highest throw.",
)
@click.option(
    "--from",
    "state",
    metavar="STATE",
    help="Only the throws from this state, such as 1101: a 1 for each beat on which an object is "
    "due, the next beat first.",
)
@click.option("--dot", is_flag=True, help="Print the graph in the DOT language of Graphviz.")
@picture_option
@force_option
@json_option
def command(  # noqa: PLR0913, PLR0917 - click gives every option as an argument of its own
    objects: int | None,
    highest: int,
    state: str | None,
    dot: bool,
    picture: Path | None,
    force: bool,
    as_json: bool,
) -> None:
    """Show the states and the throws between them.

    A state is the beats on which objects are due. Patterns are the ways from a state back to
    itself. With --from each throw is told: where it leads, or why it is not open.
    """
    if dot and (as_json or state is not None):
        raise click.UsageError("--dot is a form of its own: it takes no --json and no --from.")
    if picture is not None and state is not None:
        raise click.UsageError("--picture draws all states: it takes no --from.")
    if state is not None:
        with wrong_input_told(state, as_json):
            bits = _read_state(state, objects, highest)
        _show_open(bits, highest, as_json)
        return
    if objects is None:
        raise click.UsageError("Which states? Give --objects N, or one state with --from STATE.")
    with wrong_input_told("", as_json):
        _check_size(objects, highest, MOST_STATES if dot or as_json else MOST_ROWS)
        if picture is not None:
            draw_states(objects, highest, picture, overwrite=force)
    _show_all(objects, highest, dot, as_json)


def _show_open(state: int, highest: int, as_json: bool) -> None:
    objects = state.bit_count()
    if as_json:
        show_json(open_document(state, objects, highest))
    else:
        show(*open_page(state, objects, highest))


def _show_all(objects: int, highest: int, dot: bool, as_json: bool) -> None:
    states = all_states(objects, highest)
    if dot:
        write_lines(dot_lines(states, objects, highest))
    elif as_json:
        documents = (state_document(state, objects, highest) for state in states)
        write_json(documents, "states", objects=objects, max=highest)
    else:
        show(*states_page(states, objects, highest))


def _check_size(objects: int, highest: int, most: int) -> None:
    """Return only if the states can be listed."""
    number = comb(highest, objects)
    if not number:
        raise EngineError(
            f"{counted(objects, 'object')} take throws of at least {objects}, as the mean throw "
            f"is the number of objects; these go up to {highest}."
        )
    if number > most:
        larger = "" if most > MOST_ROWS else f" (--json and --dot take {MOST_STATES:,})"
        raise EngineError(
            f"There are {number:,} states, and at most {most:,} are listed{larger}: a lower --max "
            "makes them fewer, and --from STATE shows one of them."
        )


def _read_state(text: str, objects: int | None, highest: int) -> int:
    """Return the state written in `text`."""
    if not SIGNS.fullmatch(text):
        raise EngineError(
            "A state is a row of 1 and 0, such as 1101: a 1 for each beat on which an object is "
            "due, the next beat first."
        )
    state = int(text[::-1], 2)
    if state.bit_length() > highest:
        raise EngineError(
            f"In this state an object is due {counted(state.bit_length() - 1, 'beat')} after the "
            f"next one, and a throw of at most {highest} cannot have put it there."
        )
    if objects not in {None, state.bit_count()}:
        raise EngineError(
            f"This state has {counted(state.bit_count(), 'object')}, and --objects says {objects}."
        )
    return state
