"""What `states` shows: the states and the throws between them, as a table, JSON and DOT."""

from collections.abc import Iterable, Iterator
from typing import Any, Final

from rich.console import RenderableType
from rich.text import Text

from caller.console.printable import can_print
from caller.console.terminal import counted, table
from engine.finding.open_throws import OpenThrow, open_throws
from engine.finding.prime_cycles import throws_from_ground
from engine.finding.state_graph import ground_state, transitions
from engine.patterns.pattern import VALUE_DIGITS

ARROW: Final = "\N{RIGHTWARDS ARROW}"
PLAIN_ARROW: Final = ">"
CAPTION: Final = (
    "A state is read from left to right: 1 where an object is due on a beat, the next beat first. "
    "Each throw stands with the state it leads to; way is the number of throws from the ground "
    "state, marked *."
)
DUE: Final = "an object is due on this beat and has to be thrown"
NOTHING: Final = "nothing is due on this beat, so that only a 0 is open"
TAKEN: Final = "it would meet the object that is already due {beats} from now"


def state_text(state: int, highest: int) -> str:
    """Return a state as signs, the next beat first."""
    return f"{state:0{highest}b}"[::-1]


def due_list(state: int) -> list[int]:
    """Return a state as JSON has it: objects due on each coming beat, the next first."""
    return [int(sign) for sign in f"{state:b}"[::-1]] if state else []


def states_page(states: list[int], objects: int, highest: int) -> Iterator[RenderableType]:
    """Yield a table with a row for each state."""
    arrow = ARROW if can_print(ARROW) else PLAIN_ARROW
    throws = sum(len(transitions(state, highest)) for state in states)
    yield Text(
        f"{counted(objects, 'object')}, throws up to {highest}: {counted(len(states), 'state')} "
        f"and {counted(throws, 'throw')} between them.",
        "bold",
    )
    yield Text()
    listing = table("state", "way", "throws", numbers=["way"])
    for state in states:
        mark = "*" if state == ground_state(objects) else ""
        listing.add_row(
            state_text(state, highest) + mark,
            str(throws_from_ground(state, objects)),
            " ".join(
                f"{VALUE_DIGITS[value]}{arrow}{state_text(following, highest)}"
                for value, following in transitions(state, highest)
            ),
        )
    yield listing
    yield Text()
    yield Text(CAPTION, "dim")


def open_page(state: int, objects: int, highest: int) -> Iterator[RenderableType]:
    """Yield a table of all throws from one state: where each leads, or why it is not open."""
    yield Text(
        f"From {state_text(state, highest)}, {counted(objects, 'object')}, throws up to {highest}:",
        "bold",
    )
    yield Text()
    listing = table("throw", "open", "leads to, or why not")
    for throw in open_throws(state, highest):
        is_open = throw.leads_to is not None
        told = state_text(throw.leads_to, highest) if throw.leads_to is not None else why(throw)
        listing.add_row(VALUE_DIGITS[throw.value], "yes" if is_open else "no", told)
    yield listing


def why(throw: OpenThrow) -> str:
    """Return why a throw is not open."""
    if throw.obstacle == "object due":
        return DUE
    if throw.obstacle == "nothing due":
        return NOTHING
    return TAKEN.format(beats=counted(throw.value, "beat"))


def state_document(state: int, objects: int, highest: int) -> dict[str, Any]:
    """Return one state of the graph as JSON has it."""
    return {
        "state": due_list(state),
        "ground": state == ground_state(objects),
        "from_ground": throws_from_ground(state, objects),
        "throws": [
            {"value": value, "leads_to": due_list(following)}
            for value, following in transitions(state, highest)
        ],
    }


def open_document(state: int, objects: int, highest: int) -> dict[str, Any]:
    """Return all throws from one state as JSON has them."""
    return {
        "objects": objects,
        "max": highest,
        "state": due_list(state),
        "throws": [
            {
                "value": throw.value,
                "open": throw.leads_to is not None,
                "leads_to": None if throw.leads_to is None else due_list(throw.leads_to),
                "why_not": None if throw.leads_to is not None else why(throw),
            }
            for throw in open_throws(state, highest)
        ],
    }


def dot_lines(states: Iterable[int], objects: int, highest: int) -> Iterator[str]:
    """Yield the graph of states in the DOT language of Graphviz; the ground state is doubled."""
    yield "digraph states {"
    yield f'    label="{counted(objects, "object")}, throws up to {highest}";'
    yield "    node [shape=box];"
    yield f'    "{state_text(ground_state(objects), highest)}" [peripheries=2];'
    for state in states:
        for value, following in transitions(state, highest):
            here, there = state_text(state, highest), state_text(following, highest)
            yield f'    "{here}" -> "{there}" [label="{VALUE_DIGITS[value]}"];'
    yield "}"
