"""`throwcount states`: the states of a number of objects, and the throws between them.

They are shown as a table, as JSON, as a picture or in the DOT language of Graphviz.
"""

from collections.abc import Iterator
from math import comb, prod
from pathlib import Path
from typing import Any, Final

import click
from rich.console import RenderableType
from rich.text import Text

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.commands.shared import (
    reporting_wrong_input,
    too_low,
    write_json,
    write_lines,
)
from throwcount.caller.options.arguments import (
    PatternCommand,
    WholeRange,
    flag,
    from_one_hand_option,
    json_option,
    objects_argument,
    option,
    together_option,
)
from throwcount.caller.pictures.sheet import force_option, picture_option
from throwcount.caller.pictures.state_picture import draw_states, state_text
from throwcount.caller.terminal.printing import show, show_json, table
from throwcount.caller.terminal.text import can_print
from throwcount.engine.errors import EngineError
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.pattern import HIGHEST_VALUE, VALUE_DIGITS, written_turn
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.states import (
    State,
    by_beat,
    due_at,
    ground_states,
    is_ground,
    trimmed,
)
from throwcount.engine.search.state_graph import (
    OpenThrow,
    number_of_states,
    open_throws,
    states_of,
    throws_of,
    turns_from,
    turns_to,
)

ARROW: Final = "\N{RIGHTWARDS ARROW}"
PLAIN_ARROW: Final = ">"
NO_WAY: Final = "-"
CAPTION: Final = (
    "A state is read from left to right: 1 where an object is due on a beat, the next beat first. "
    "Each throw stands with the state it leads to; way is the number of throws from the ground "
    "state, marked *."
)
MORE_CAPTION: Final = (
    "A state is read from left to right: how many objects are due on each coming beat, the next "
    "first{pairs}. Each throw stands with the state it leads to; way is the number of turns from "
    "the ground state, marked *."
)
PAIRS_CAPTION: Final = "; the left hand stands before the right, each with every second beat"
DUE: Final = "an object is due on this beat and has to be thrown"
NOTHING: Final = "nothing is due on this beat, so that only a 0 is open"
TAKEN: Final = "it would meet the object that is already due {beats} from now"
ALL_TAKEN: Final = "it would meet the {most} objects that are already due {beats} from now"


def states_page(hands: HandLimits, objects: int) -> Iterator[RenderableType]:
    """Yield a table with a row for each state."""
    arrow = ARROW if can_print(ARROW) else PLAIN_ARROW
    listing = table("state", "way", "throws", numbers=["way"])
    states = throws = 0
    for state in states_of(hands, objects):
        following = [
            f"{written_turn(hands.kind, turn)}{arrow}{state_text(hands, after)}"
            for turn, after in turns_from(hands, state)
        ]
        way = turns_to(hands, state, objects)
        listing.add_row(
            state_text(hands, state) + "*" * is_ground(state),
            NO_WAY if way is None else str(way),
            " ".join(following),
        )
        states, throws = states + 1, throws + len(following)
    yield Text(
        f"{counted(objects, 'object')}, throws up to {hands.highest}: {counted(states, 'state')} "
        f"and {counted(throws, 'throw')} between them.",
        "bold",
    )
    yield Text()
    yield listing
    yield Text()
    pairs = PAIRS_CAPTION if hands.kind == "sync" else ""
    yield Text(CAPTION if hands.plain else MORE_CAPTION.format(pairs=pairs), "dim")


def open_page(hands: HandLimits, state: State) -> Iterator[RenderableType]:
    """Yield a table of all throws from a state: where each one leads, or why it is not open."""
    yield Text(
        f"From {state_text(hands, state)}, {counted(sum(map(sum, state)), 'object')}, throws up "
        f"to {hands.highest}:",
        "bold",
    )
    yield Text()
    listing = table("throw", "open", "leads to, or why not")
    for throw in open_throws(hands, state):
        is_open = throw.leads_to is not None
        text = (
            state_text(hands, throw.leads_to) if throw.leads_to is not None else why(hands, throw)
        )
        written = throw.written if throw.hand is None else f"{throw.hand} {throw.written}"
        listing.add_row(written, "yes" if is_open else "no", text)
    yield listing


def why(hands: HandLimits, throw: OpenThrow) -> str:
    """Return why a throw is not open."""
    if throw.obstacle == "object due":
        return DUE
    if throw.obstacle == "nothing due":
        return NOTHING
    taken = TAKEN if hands.capacity == 1 else ALL_TAKEN
    return taken.format(most=hands.capacity, beats=counted(throw.value, "beat"))


def state_document(hands: HandLimits, state: State, objects: int) -> dict[str, Any]:
    """Return one state of the graph for JSON."""
    return {
        "state": by_beat(state),
        "ground": is_ground(state),
        "from_ground": turns_to(hands, state, objects),
        "throws": [
            {**_thrown(hands, written_turn(hands.kind, turn)), "leads_to": by_beat(following)}
            for turn, following in turns_from(hands, state)
        ],
    }


def open_document(hands: HandLimits, state: State) -> dict[str, Any]:
    """Return all throws from one state for JSON."""
    return {
        "objects": sum(map(sum, state)),
        "max": hands.highest,
        "state": by_beat(state),
        "throws": [
            {
                **_thrown(hands, throw.written),
                **({"hand": throw.hand} if hands.kind == "sync" else {}),
                "open": throw.leads_to is not None,
                "leads_to": None if throw.leads_to is None else by_beat(throw.leads_to),
                "why_not": None if throw.leads_to is not None else why(hands, throw),
            }
            for throw in open_throws(hands, state)
        ],
    }


def _thrown(hands: HandLimits, written: str) -> dict[str, Any]:
    """Return a throw for JSON: its value if only one object is thrown, else in notation."""
    return {"value": VALUE_DIGITS.index(written)} if hands.plain else {"throw": written}


def dot_lines(hands: HandLimits, objects: int) -> Iterator[str]:
    """Yield the graph in the DOT language; ground states have a double border."""
    yield "digraph states {"
    yield f'    label="{counted(objects, "object")}, throws up to {hands.highest}";'
    yield "    node [shape=box];"
    for ground in ground_states(hands.kind, objects):
        if turns_to(hands, ground, objects) is not None:
            yield f'    "{state_text(hands, ground)}" [peripheries=2];'
    for state in states_of(hands, objects):
        for turn, following in turns_from(hands, state):
            here, there = state_text(hands, state), state_text(hands, following)
            yield f'    "{here}" -> "{there}" [label="{written_turn(hands.kind, turn)}"];'
    yield "}"


MOST_ROWS: Final = 500
"""The most states in a table."""

MOST_STATES: Final = 200_000
"""The most states in a document for another program."""

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
@option("--highest H", WholeRange(1, HIGHEST_VALUE), "Throw no higher than H.", required=True)
@together_option
@from_one_hand_option
@option(
    "--from STATE",
    str,
    "Show only the throws from this state, such as 11011: a 1 for each beat on which an object is "
    "due, the next beat first. With --together the left hand's and the right's, as in (11,01).",
    name="state",
)
@flag("--dot", "Print the graph in the DOT language of Graphviz.")
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

    A state is the beats on which objects are due. Patterns are ways from a state back to itself.
    --from shows where each throw leads, or why it is not open. With --from-one-hand a state says
    how many objects are due on each beat. With --together it has a row for the left hand and
    one for the right, each of every second beat.
    """
    if dot and (as_json or state is not None):
        raise click.UsageError("--dot is a format of its own: leave out --json and --from.")
    if picture is not None and state is not None:
        raise click.UsageError("--picture draws all states: leave out --from.")
    hands = HandLimits("sync" if together else "async", highest, from_one_hand or 1)
    if state is not None:
        with reporting_wrong_input(state):
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
    _check_size(hands, objects, MOST_STATES if dot or as_json else MOST_ROWS)
    if picture is not None:
        draw_states(hands, objects, picture, overwrite=force)
    if dot:
        write_lines(dot_lines(hands, objects))
    elif as_json:
        documents = (state_document(hands, one, objects) for one in states_of(hands, objects))
        write_json(([one] for one in documents), "states", objects=objects, max=highest)
    else:
        show(*states_page(hands, objects))


def _check_size(hands: HandLimits, objects: int, most: int) -> None:
    """Raise `EngineError` if there are no states, or too many to list."""
    if sentence := too_low(hands, objects):
        raise EngineError(sentence)
    number = number_of_states(hands, objects)
    if number > most:
        larger = "" if most > MOST_ROWS else f" (--json and --dot take {MOST_STATES:,})"
        raise EngineError(
            f"There are {number:,} states, and at most {most:,} are listed{larger}: a lower "
            "--highest makes them fewer, and --from STATE shows one of them."
        )


def _check_turns(hands: HandLimits, state: State) -> None:
    """Raise `EngineError` if too many turns might be open from a state to list them."""
    each = len(throws_of(hands))
    number = prod(comb(each + due_at(due) - 1, due_at(due)) for due in state)
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
        If `text` is not such a state.
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
