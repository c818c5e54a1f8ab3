"""What `states` shows: the states and the throws between them, as a table, JSON and DOT."""

from collections.abc import Iterator
from typing import Any, Final

from rich.console import RenderableType
from rich.text import Text

from caller.console.printable import can_print
from caller.console.terminal import counted, table
from engine.finding.open_throws import OpenThrow, open_throws
from engine.finding.state_graph import states_of, turns_from, turns_to
from engine.patterns.ground import ground_states
from engine.patterns.pattern import VALUE_DIGITS
from engine.patterns.rows import HandLimits, written_turn
from engine.patterns.states import State, by_beat, is_ground

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


def state_text(hands: HandLimits, state: State) -> str:
    """Return a state as digits, the next beat first; of pairs the left hand first, in brackets."""
    places = ["".join(map(str, due)).ljust(hands.farthest, "0") for due in state]
    return places[0] if hands.kind == "async" else f"({','.join(places)})"


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
    """Yield a table of all throws from one state: where each leads, or why it is not open."""
    yield Text(
        f"From {state_text(hands, state)}, {counted(sum(map(sum, state)), 'object')}, throws up "
        f"to {hands.highest}:",
        "bold",
    )
    yield Text()
    listing = table("throw", "open", "leads to, or why not")
    for throw in open_throws(hands, state):
        is_open = throw.leads_to is not None
        told = (
            state_text(hands, throw.leads_to) if throw.leads_to is not None else why(hands, throw)
        )
        written = throw.written if throw.hand is None else f"{throw.hand} {throw.written}"
        listing.add_row(written, "yes" if is_open else "no", told)
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
    """Return one state of the graph as JSON has it."""
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
    """Return all throws from one state as JSON has them."""
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
    """Return a throw as JSON has it: a value where one object is thrown, else in notation."""
    return {"value": VALUE_DIGITS.index(written)} if hands.plain else {"throw": written}


def dot_lines(hands: HandLimits, objects: int) -> Iterator[str]:
    """Yield the graph of states in the DOT language of Graphviz; the ground state is doubled."""
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
