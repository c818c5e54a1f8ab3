"""`throwcount bridge`: the throws that lead from one pattern to another.

They are shown with the patterns at both ends and the hands, as a page, as lines or as JSON.
"""

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Any, Final

import click
from rich.console import RenderableType
from rich.text import Text

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.commands.shared import reporting_wrong_input, write_json, write_lines
from throwcount.caller.options.arguments import (
    PatternCommand,
    WholeRange,
    first_option,
    flag,
    json_option,
    option,
)
from throwcount.caller.terminal.printing import counted, shortened, show, show_json
from throwcount.caller.terminal.text import terminal_size
from throwcount.engine.patterns.pattern import (
    HIGHEST_VALUE,
    Hand,
    Pattern,
    Turn,
    other_hand,
    written_turn,
)
from throwcount.engine.patterns.rules import read
from throwcount.engine.search.bridges import Bridge, bridge, bridges

GROUND: Final = "GROUND"
BAR: Final = "|"
LABEL_WIDTH: Final = 8
MOST_TURNS: Final = 12
"""Turns of a pattern that are shown on each side of the bridge, at most."""


def end_name(pattern: Pattern | None) -> str:
    """Return the text of a pattern at one end, or the word for the ground state."""
    return GROUND if pattern is None else pattern.text


def bridge_document(bridge: Bridge, first: Hand) -> dict[str, Any]:
    """Return a bridge for JSON, without its ends; `first` is the first hand of the pattern left."""
    return {
        "throws": bridge.throws,
        "objects": bridge.objects,
        "from_rotation": bridge.from_rotation,
        "to_rotation": bridge.to_rotation,
        "first_hand": first_hand(bridge, first),
        "beats": list(_beats(bridge, first)),
    }


def _beats(bridge: Bridge, first: Hand) -> Iterator[dict[str, Any]]:
    """Yield the throws of each hand, beat by beat; a beat without throws follows each pair."""
    opening = first_hand(bridge, first) or first
    for number, turn in enumerate(bridge.turns):
        alone = other_hand(opening) if number % 2 else opening
        hands: tuple[Hand, ...] = (alone,) if bridge.kind == "async" else ("left", "right")
        written = {
            hand: [str(throw) for throw in throws] or ["0"]
            for hand, throws in zip(hands, turn, strict=True)
        }
        beat = number * len(turn)
        yield {"beat": beat, "right": written.get("right", []), "left": written.get("left", [])}
        if bridge.kind == "sync":
            yield {"beat": beat + 1, "right": [], "left": []}


def bridge_line(bridge: Bridge, any_rotation: bool) -> str:
    """Return a bridge as one line, after the beats of leaving and entering if they may vary."""
    throws = " ".join(bridge.throws) or "no throw"
    if not any_rotation:
        return throws
    return f"{bridge.from_rotation:>4} {bridge.to_rotation:>4}   {throws}"


def first_hand(bridge: Bridge, first: Hand) -> Hand | None:
    """Return the hand of the bridge's first throw; None if the hands throw together."""
    if bridge.kind == "sync":
        return None
    return other_hand(first) if bridge.from_rotation % 2 else first


def bridge_page(
    bridge: Bridge, leaving: Pattern | None, entering: Pattern | None, first: Hand, width: int
) -> Iterator[RenderableType]:
    """Yield the page of a shortest bridge, for a terminal with `width` columns.

    `leaving` and `entering` are the patterns at its ends, None for the ground state. `first` is the
    hand of beat 0 of the pattern that is left.
    """
    yield Text(first_sentence(bridge, leaving, entering), "bold")
    yield Text()
    yield from _picture(bridge, leaving, entering, first, width)
    for sentence in notes(bridge, leaving, entering):
        yield Text()
        yield Text(sentence, "dim")


def first_sentence(bridge: Bridge, leaving: Pattern | None, entering: Pattern | None) -> str:
    """Return the first sentence of the page."""
    ends = f"From {shortened(end_name(leaving))} to {shortened(end_name(entering))}"
    with_objects = f"with {counted(bridge.objects, 'object')}"
    if not bridge.turns:
        return f"{ends} {with_objects}: no throw is needed, as one follows the other directly."
    throws = counted(len(bridge.turns), "throw" if bridge.kind == "async" else "pair")
    return f"{ends} {with_objects}: {throws}, {' '.join(bridge.throws)}."


def notes(bridge: Bridge, leaving: Pattern | None, entering: Pattern | None) -> Iterator[str]:
    """Yield further sentences about leaving and entering."""
    if bridge.from_rotation and leaving is not None:
        beats = counted(bridge.from_rotation, "beat")
        yield f"{shortened(leaving.text)} is left {beats} into a repetition."
    if bridge.to_rotation and entering is not None:
        beats = counted(bridge.to_rotation, "beat")
        yield f"{shortened(entering.text)} is entered {beats} after its beginning as written."
    if leaving is not None and leaving.kind == "async" and leaving.period % 2:
        yield (
            f"The hands swap with every repetition of {shortened(leaving.text)}, so the whole may "
            "come mirrored."
        )


def _picture(
    bridge: Bridge, leaving: Pattern | None, entering: Pattern | None, first: Hand, width: int
) -> Iterator[Text]:
    """Yield the throws with their hands below, in as many rows as the width requires."""
    before, after = _before(bridge, leaving), _after(bridge, entering)
    characters: list[tuple[str, str]] = []
    for part, start in ((before, -len(before)), (bridge.turns, 0), (after, len(bridge.turns))):
        if characters and part:
            characters.append((BAR, BAR))
        characters.extend(_turns_shown(bridge, part, start, first))
    line: list[tuple[str, str]] = []
    for character in characters:
        columns = LABEL_WIDTH - 1 + sum(len(above) + 1 for above, _ in [*line, character])
        if line and columns > width:
            yield from _lines(bridge, line)
            line = []
        line.append(character)
    yield from _lines(bridge, line)


def _turns_shown(
    bridge: Bridge, turns: Iterable[Turn], start: int, first: Hand
) -> Iterator[tuple[str, str]]:
    """Yield each turn in notation with the letter of its hand.

    `start` is the number of the first one, counted from the start of the bridge.
    """
    opening = first_hand(bridge, first) or first
    for number, turn in enumerate(turns, start):
        hand = other_hand(opening) if number % 2 else opening
        yield written_turn(bridge.kind, turn), hand[0].upper()


def _lines(bridge: Bridge, line: list[tuple[str, str]]) -> Iterator[Text]:
    rows = [("throws", [above for above, _ in line])]
    if bridge.kind == "async":
        rows.append(("hands", [below.ljust(len(above)) for above, below in line]))
    for label, cells in rows:
        yield Text(f"{label:<{LABEL_WIDTH}}{' '.join(cells)}", no_wrap=True)


def _before(bridge: Bridge, leaving: Pattern | None) -> tuple[Turn, ...]:
    """Return the turns shown before the bridge: a repetition, up to where it is left."""
    if leaving is None:
        return ()
    left = bridge.from_rotation // leaving.beats_per_turn
    return (leaving.turns + leaving.turns[:left])[-MOST_TURNS:]


def _after(bridge: Bridge, entering: Pattern | None) -> tuple[Turn, ...]:
    """Return the turns shown after the bridge: a repetition, from where it is entered."""
    if entering is None:
        return ()
    begun = bridge.to_rotation // entering.beats_per_turn
    return (entering.turns[begun:] + entering.turns[:begun])[:MOST_TURNS]


EPILOG: Final = """\
\b
Examples:
  throwcount bridge 3 51
  throwcount bridge 51 GROUND
  throwcount bridge 53 71 --any-rotation --highest 7
  throwcount bridge "(4x,2x)" "(2x,4x)" --all
"""


@click.command("bridge", cls=PatternCommand, epilog=EPILOG, context_settings=HELP_OPTIONS)
@click.argument("leaving", metavar="FROM")
@click.argument("entering", metavar="TO")
@option(
    "--highest H",
    WholeRange(1, HIGHEST_VALUE),
    "Throw no higher than H.  [default: the highest throw of both patterns]",
)
@flag("--any-rotation", "Leave and enter the patterns wherever it is shortest.")
@flag("--all", "List all bridges with the fewest throws, one a line.", name="every")
@option("--limit L", WholeRange(min=1), "Stop after L bridges, with --all.")
@first_option
@json_option
def bridge_command(  # noqa: PLR0913, PLR0917 - click gives every option as an argument of its own
    leaving: str,
    entering: str,
    highest: int | None,
    any_rotation: bool,
    every: bool,
    limit: int | None,
    first: Hand,
    as_json: bool,
) -> None:
    """Find the throws that lead from one pattern to another.

    They are thrown without a stop. FROM is left and TO is entered as they are written; the word
    GROUND stands for the ground state, from which most patterns are begun. You see a bridge with
    the fewest throws, and among these one whose highest throw is lowest. It throws no more objects
    from a hand at once than the patterns do. Where the hands alternate, the right hand makes the
    first throw of FROM, unless --first says otherwise.
    """
    start, end = _end(leaving, as_json), _end(entering, as_json)
    with reporting_wrong_input(f"{leaving} {entering}", as_json):
        shortest = bridge(start, end, highest, any_rotation=any_rotation)
    names = {"from": end_name(start), "to": end_name(end)}
    if every:
        found = islice(bridges(start, end, highest, any_rotation=any_rotation), limit)
        if as_json:
            write_json((bridge_document(one, first) for one in found), "bridges", **names)
        else:
            write_lines(bridge_line(one, any_rotation) for one in found)
    elif as_json:
        show_json(names | bridge_document(shortest, first))
    else:
        show(*bridge_page(shortest, start, end, first, terminal_size().columns))


def _end(text: str, as_json: bool) -> Pattern | None:
    """Return the pattern of one end; None for the ground state."""
    if text.upper() == GROUND:
        return None
    with reporting_wrong_input(text, as_json):
        return read(text)
