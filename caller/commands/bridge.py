"""`throwcount bridge`: the throws that lead from one pattern to another.

They are shown with the patterns at both ends and the hands, as a page, as lines or as JSON.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from itertools import chain, islice
from typing import Any, Final, TypeAlias

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
from throwcount.caller.terminal.printing import shortened, show, show_json
from throwcount.caller.terminal.text import PlainError, terminal_size
from throwcount.engine.hands.work import TurnOfHand, hand_turns
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.pattern import (
    HIGHEST_VALUE,
    Hand,
    Pattern,
    Throws,
    Turn,
    other_hand,
    written_turn,
)
from throwcount.engine.patterns.rules import read
from throwcount.engine.search.bridges import Bridge, bridges
from throwcount.engine.search.timing_change import TimingChange

GROUND: Final = "GROUND"
BAR: Final = "|"
LABEL_WIDTH: Final = 8
USUAL_LIMIT: Final = 100
"""Bridges that are listed unless asked otherwise."""

HEADING: Final = "from   to   throws"
"""Above the lines of bridges that leave and enter the patterns anywhere."""

MOST_TURNS: Final = 12
"""Turns of a pattern that are shown on each side of the bridge, at most."""


def end_name(pattern: Pattern | None) -> str:
    """Return the text of a pattern at one end, or the word for the ground state."""
    return GROUND if pattern is None else pattern.text


def bridge_document(bridge: Bridge) -> dict[str, Any]:
    """Return a bridge for JSON, without its ends."""
    change = bridge.change
    document: dict[str, Any] = {
        "throws": bridge.throws if change is None else None,
        "objects": bridge.objects,
        "from_rotation": bridge.from_rotation,
        "to_rotation": bridge.to_rotation,
        "first_hand": bridge.first,
        "beats": [
            {"beat": beat, "right": _written(row, "right"), "left": _written(row, "left")}
            for beat, row in bridge.by_hand()
        ],
    }
    if change is not None:
        document["change"] = {"hand": change.hand, "how": change.how, "beat": change.beat}
        document["to_hand"] = bridge.hand_at(bridge.beats)
    return document


def _written(row: Mapping[Hand, Throws], hand: Hand) -> list[str]:
    """Return what a hand throws on a beat, a 0 if it is empty, and nothing out of its turn."""
    return [str(throw) for throw in row[hand]] or ["0"] if hand in row else []


def bridge_line(bridge: Bridge, any_rotation: bool) -> str:
    """Return a bridge as one line, after the beats of leaving and entering if they may vary.

    The columns are those of `HEADING`.
    """
    throws = " ".join(bridge.throws) or "no throw"
    if bridge.change is not None:
        throws = f"{throws}   {bridge.change.text}"
    if not any_rotation:
        return throws
    return f"{bridge.from_rotation:>4} {bridge.to_rotation:>4}   {throws}"


def bridge_page(
    bridge: Bridge, leaving: Pattern | None, entering: Pattern | None, first: Hand, width: int
) -> Iterator[RenderableType]:
    """Yield the page of a shortest bridge, for a terminal with `width` columns.

    `leaving` and `entering` are the patterns at its ends, None for the ground state. `first` is the
    hand of beat 0 of the pattern that is left.
    """
    yield Text(first_sentence(bridge, leaving, entering), "bold")
    yield Text()
    if bridge.change is None:
        yield from _by_turns(bridge, leaving, entering, width)
    else:
        yield from _rows_by_hand(bridge, leaving, entering, first, width)
    for sentence in notes(bridge, leaving, entering):
        yield Text()
        yield Text(sentence, "dim")


def first_sentence(bridge: Bridge, leaving: Pattern | None, entering: Pattern | None) -> str:
    """Return the first sentence of the page."""
    ends = f"From {shortened(end_name(leaving))} to {shortened(end_name(entering))}"
    with_objects = f"with {counted(bridge.objects, 'object')}"
    if not bridge.beats:
        return f"{ends} {with_objects}: no throw is needed, as one follows the other directly."
    if bridge.change is not None:
        beats = counted(bridge.beats, "beat")
        return f"{ends} {with_objects}: {beats}, {' '.join(bridge.throws)}."
    throws = counted(len(bridge.turns), "throw" if bridge.kind == "async" else "pair")
    return f"{ends} {with_objects}: {throws}, {' '.join(bridge.throws)}."


def notes(bridge: Bridge, leaving: Pattern | None, entering: Pattern | None) -> Iterator[str]:
    """Yield further sentences about the change of timing, about leaving and entering."""
    if bridge.change is not None:
        yield _change_sentence(bridge, bridge.change, entering)
    if bridge.from_rotation and leaving is not None:
        beats = counted(bridge.from_rotation, "beat")
        yield f"{shortened(leaving.text)} is left {beats} into a repetition."
    if bridge.to_rotation and entering is not None:
        beats = counted(bridge.to_rotation, "beat")
        yield f"{shortened(entering.text)} is entered {beats} after its beginning as written."
    if leaving is not None and leaving.kind == "async" and leaving.period % 2:
        swaps = f"The hands swap with every repetition of {shortened(leaving.text)}, so "
        if bridge.change is None:
            yield swaps + "the whole may come mirrored."
        else:
            yield swaps + "--first shows the bridge for when the other hand comes first."


def _change_sentence(bridge: Bridge, change: TimingChange, entering: Pattern | None) -> str:
    """Return how one hand goes over to the other timing, and how the throws are written."""
    hand, beat = f"The {change.hand} hand", change.beat
    if change.how == "wait":
        sentence = f"{hand} waits: what it has on beat {beat - 1}, it throws on beat {beat}."
    else:
        sentence = f"{hand} hurries: it throws on beat {beat - 1}, and again on beat {beat}."
    begins = bridge.hand_at(bridge.beats)
    if begins is not None and entering is not None:
        sentence += f" Then the {begins} hand begins {shortened(entering.text)}."
    if bridge.beats:
        sentence += f" {MARKED}"
    return sentence


MARKED: Final = (
    "In a bridge between two timings an x marks all that goes to the other hand, except from one "
    "beat of a single hand to another, where odd throws cross as usual."
)


Column: TypeAlias = tuple[str, ...]
"""What is shown one below the other."""


def _rows_by_hand(
    bridge: Bridge, leaving: Pattern | None, entering: Pattern | None, first: Hand, width: int
) -> Iterator[Text]:
    """Yield what each hand throws before, in and after a bridge between two timings."""
    before, after = _before(bridge, leaving), _after(bridge, entering)
    shown: list[list[Column]] = [[], [], []]
    if leaving is not None:
        start = -len(before) * leaving.beats_per_turn
        hand = first if (start + bridge.from_rotation) % 2 == 0 else other_hand(first)
        shown[0] = _columns(hand_turns(leaving.kind, before, hand, start), range(start, 0))
    turns = [TurnOfHand(beat, *each) for beat, row in bridge.by_hand() for each in row.items()]
    shown[1] = _columns(turns, range(bridge.beats))
    if entering is not None:
        end = bridge.beats + len(after) * entering.beats_per_turn
        hand = bridge.hand_at(bridge.beats) or first
        turns = hand_turns(entering.kind, after, hand, bridge.beats)
        shown[2] = _columns(turns, range(bridge.beats, end))
    columns: list[Column] = []
    for part in shown:
        if columns and part:
            columns.append((BAR, BAR, BAR))
        columns.extend(part)
    labels = ("beat", "right", "left")
    yield from _wrapped(labels, columns, width)


def _columns(turns: Iterable[TurnOfHand], beats: range) -> list[Column]:
    hands = {(turn.beat, turn.hand): written_turn("async", (turn.throws,)) for turn in turns}
    return [
        (str(beat), hands.get((beat, "right"), ""), hands.get((beat, "left"), "")) for beat in beats
    ]


def _wrapped(labels: Sequence[str], columns: list[Column], width: int) -> Iterator[Text]:
    """Yield columns of cells side by side, in as many rows as the width requires."""
    line: list[list[str]] = []
    used = LABEL_WIDTH - 1
    for cells in [*columns, ()]:
        wide = max(map(len, cells), default=0)
        used += wide + 1
        if line and (used > width or not cells):
            for label, row in zip(labels, zip(*line, strict=True), strict=True):
                yield Text(f"{label:<{LABEL_WIDTH}}{' '.join(row)}".rstrip(), no_wrap=True)
            line, used = [], LABEL_WIDTH + wide
        line.append([cell.ljust(wide) for cell in cells])


def _by_turns(
    bridge: Bridge, leaving: Pattern | None, entering: Pattern | None, width: int
) -> Iterator[Text]:
    """Yield the throws before, in and after a bridge of one timing, with their hands below."""
    before, after = _before(bridge, leaving), _after(bridge, entering)
    columns: list[Column] = []
    for part, start in ((before, -len(before)), (bridge.turns, 0), (after, len(bridge.turns))):
        if columns and part:
            columns.append((BAR, BAR))
        for number, turn in enumerate(part, start):
            hand = bridge.hand_at(number)
            columns.append((written_turn(bridge.kind, turn), hand[0].upper() if hand else ""))
    labels = ("throws", "hands") if bridge.kind == "async" else ("throws",)
    return _wrapped(labels, [cells[: len(labels)] for cells in columns], width)


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
  throwcount bridge 3 "(4x,2x)"
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
@flag(
    "--all", "List all bridges with the fewest throws, one a line, the easiest first.", name="every"
)
@option("--limit L", WholeRange(min=1), "Stop after L bridges, with --all.", default=USUAL_LIMIT)
@first_option
@json_option
def bridge_command(  # noqa: PLR0913, PLR0917 - click gives every option as an argument of its own
    leaving: str,
    entering: str,
    highest: int | None,
    any_rotation: bool,
    every: bool,
    limit: int,
    first: Hand,
    as_json: bool,
) -> None:
    """Find the throws that lead from one pattern to another.

    They are thrown without a stop. FROM is left and TO is entered as they are written; the word
    GROUND stands for the ground state, from which most patterns are begun. You see the easiest of
    the bridges with the fewest throws. It throws no more objects from a hand at once than the
    patterns do. From hands in turn to hands together, or back, one hand waits or hurries a beat.
    Where the hands alternate, the right hand makes the first throw of FROM, unless --first says
    otherwise.
    """
    start, end = _end(leaving), _end(entering)
    with reporting_wrong_input(f"{leaving} {entering}"):
        found = bridges(start, end, highest, any_rotation=any_rotation, first=first)
        easiest = next(found)
    names = {"from": end_name(start), "to": end_name(end)}
    if every:
        listed = islice(chain([easiest], found), limit)
        more = cache(lambda: next(found, None) is not None)
        if as_json:
            write_json(([bridge_document(one)] for one in listed), "bridges", more, **names)
        else:
            write_lines([HEADING] if any_rotation else [])
            write_lines(bridge_line(one, any_rotation) for one in listed)
        if more():
            PlainError(
                f"There {'is' if limit == 1 else 'are'} more than {counted(limit, 'bridge')}; "
                "--limit sets how many are listed."
            ).show()
    elif as_json:
        show_json(names | bridge_document(easiest))
    else:
        show(*bridge_page(easiest, start, end, first, terminal_size().columns))


def _end(text: str) -> Pattern | None:
    """Return the pattern of one end; None for the ground state."""
    if text.upper() == GROUND:
        return None
    with reporting_wrong_input(text):
        return read(text)
