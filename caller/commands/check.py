"""`throwcount check`: whether a pattern can be thrown, and what it is like, as a page or JSON."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

import click
from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.options.arguments import PatternCommand, first_option, json_option
from throwcount.caller.pictures.ladder import (
    LINE_CHARACTERS,
    LINES,
    MOST_OBJECTS,
    PLAIN_LINES,
    Stop,
    frame,
    paths,
    picture,
)
from throwcount.caller.pictures.sheet import force_option, picture_option
from throwcount.caller.terminal.printing import Document, listed, shortened, show, show_json, table
from throwcount.caller.terminal.text import can_print, terminal_size
from throwcount.engine.hands.difficulty import difficulty
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.names import name_of
from throwcount.engine.patterns.pattern import Hand, Pattern, other_hand
from throwcount.engine.patterns.states import (
    Orbit,
    begins_at_once,
    due_by_beat,
    ground,
    is_prime,
    orbits,
    start,
    state,
    swaps_hands,
    true_period,
    visits_ground,
)

if TYPE_CHECKING:
    from pathlib import Path

MOST_ORBITS: Final = 8
FEW: Final = 12
"""The most objects in a hand that are named and not only counted."""

MOST_WALKED: Final = 1000
"""The most beats that are followed to find which objects share an orbit."""

CAPTION: Final = (
    "Each object has a row for either hand. Its line leads from throw to throw, in the air or "
    "held; dots are an object that waits in the hand for its first throw; | opens a repetition."
)


def pattern_page(pattern: Pattern, width: int, first: Hand = "right") -> Iterator[RenderableType]:
    """Yield the parts of the page, from top to bottom, for a pattern that can be thrown.

    `width` is that of the terminal, in columns. `first` is the hand of beat 0 where the hands
    alternate.
    """
    found = orbits(pattern, first)
    longest = max((orbit.objects * pattern.period for orbit in found), default=0)
    layout = frame(pattern, longest, width)
    followed = longest if longest <= MOST_WALKED else 0
    objects = paths(pattern, max(layout.beats, followed), first)
    lines = LINES if can_print(LINE_CHARACTERS) else PLAIN_LINES

    yield Text(first_sentence(pattern), "bold")
    yield Text()
    yield facts_table(pattern, objects, first)
    yield Text()
    if pattern.objects:
        yield Text(difficulty_text(pattern))
        yield Text()
    if found:
        yield orbits_table(found, orbit_sharers(found, objects, pattern) if followed else [])
        yield Text()
    yield from picture(pattern, objects, layout, lines, first)
    if not pattern.objects:
        return
    yield Text()
    yield Text(caption(pattern, layout.beats, len(objects)), "dim")


def first_sentence(pattern: Pattern) -> str:
    """Return the first sentence of the page."""
    text = shortened(pattern.text)
    if pattern.objects == 0:
        return f"{text} can be thrown: it is a rest, without any object."
    return f"{text} can be thrown with {counted(pattern.objects, 'object')}."


def facts_table(pattern: Pattern, objects: dict[str, list[Stop]], first: Hand) -> Table:
    """Return the facts about a pattern, one a row."""
    facts = Table.grid(padding=(0, 2, 0, 0))
    facts.add_column(style="bold", no_wrap=True)
    facts.add_column()
    name = name_of(pattern)
    if name:
        facts.add_row("name", name)
    facts.add_row("objects", f"{pattern.objects:,}")
    facts.add_row("period", _period_text(pattern))
    facts.add_row("throws", _kind_text(pattern))
    if pattern.objects:
        facts.add_row("highest", str(pattern.highest))
        facts.add_row("state", _state_text(pattern, first))
        facts.add_row("prime", _prime_text(pattern))
        facts.add_row("hands", _hands_text(pattern))
        facts.add_row("start", _start_text(pattern, objects, first))
    return facts


def difficulty_text(pattern: Pattern) -> str:
    """Return how hard a pattern is at its usual tempo, and why."""
    found = difficulty(pattern)
    return (
        f"Difficulty {found.number:.1f} at {found.tempo:g} beats a minute, where a plain pattern "
        f"has its number of objects. {' '.join(found.reasons)}"
    )


def orbits_table(found: tuple[Orbit, ...], sharers: list[list[str]]) -> Table:
    """Return the orbits: the objects that share each, and its throws in one repetition.

    `sharers` has the names of the objects of each orbit; if it is empty their number is shown.
    """
    shown = table("objects", "beats", "throws", "hands")
    for index, orbit in enumerate(found[:MOST_ORBITS]):
        shown.add_row(
            listed(sharers[index]) if sharers else counted(orbit.objects, "object"),
            listed(map(str, orbit.beats)),
            listed(orbit.throws),
            listed(hand[0].upper() for hand in orbit.hands),
        )
    if len(found) > MOST_ORBITS:
        shown.add_row("...", f"and {counted(len(found) - MOST_ORBITS, 'more orbit')}")
    return shown


def orbit_sharers(
    found: tuple[Orbit, ...], objects: dict[str, list[Stop]], pattern: Pattern
) -> list[list[str]]:
    """Return the names of the objects that share each orbit, according to their throws."""
    sharers: list[list[str]] = [[] for _ in found]
    for name, stops in objects.items():
        for names, orbit in zip(sharers, found, strict=True):
            if len(names) < orbit.objects and _takes(stops, orbit, pattern):
                names.append(name)
                break
    return sharers


def _takes(stops: list[Stop], orbit: Orbit, pattern: Pattern) -> bool:
    """Return whether an object makes exactly the throws of an orbit from its first throw on."""
    end = stops[0].beat + orbit.objects * pattern.period
    made = []
    for stop in stops:
        repetition, beat = divmod(stop.beat, pattern.period)
        swapped = swaps_hands(pattern) and repetition % 2
        if stop.beat < end:
            made.append((beat, stop.throw, other_hand(stop.hand) if swapped else stop.hand))
    return sorted(made) == sorted(zip(orbit.beats, orbit.throws, orbit.hands, strict=True))


def caption(pattern: Pattern, beats: int, objects: int) -> str:
    """Return the text under the picture: how to read it, and what it leaves out."""
    texts = [CAPTION] if objects else []
    if objects > MOST_OBJECTS:
        texts.append(f"The picture has {MOST_OBJECTS} of the {objects} objects.")
    if beats < pattern.period:
        texts.append(f"The picture has the first {beats} of {pattern.period:,} beats.")
    return " ".join(texts)


def _period_text(pattern: Pattern) -> str:
    text = counted(pattern.period, "beat")
    repeats = true_period(pattern)
    if repeats < pattern.period:
        text += f" as written; it repeats within itself after {counted(repeats, 'beat')}"
    return text


def _kind_text(pattern: Pattern) -> str:
    text = "one hand after the other"
    if pattern.kind == "sync":
        text = "both hands at once, on every second beat (synchronous)"
    return text + ("; several from one hand (multiplex)" if pattern.multiplex else "")


def _state_text(pattern: Pattern, first: Hand) -> str:
    due = [counts if isinstance(counts, list) else [counts] for counts in due_by_beat(pattern)]
    if pattern.kind == "sync":
        left, right = (" ".join(map(str, counts)) or "0" for counts in due)
        text = f"left {left}, right {right}"
    else:
        text = " ".join(str(count) for counts in due for count in counts) or "0"
    plain = f"the plain pattern of {counted(pattern.objects, 'object')}"
    if ground(pattern):
        return f"{text}: the ground state, so it starts straight from {plain}"
    later = "later passes" if visits_ground(pattern) else "never passes"
    if begins_at_once(state(pattern)):
        hands = [hand for hand, held in start(pattern, first).items() if held]
        which = f"the {hands[0]} hand has them all and throws first"
        if len(hands) > 1:
            which = "a hand with several at once throws them first"
        return (
            f"{text}: it begins straight from the hands, as {which}; from {plain} it takes other "
            f"throws; the pattern {later} the ground state"
        )
    return (
        f"{text}: an excited state, which takes other throws to reach from {plain}; the pattern "
        f"{later} the ground state"
    )


def _prime_text(pattern: Pattern) -> str:
    if is_prime(pattern):
        return "yes: no state comes twice, so it does not split into shorter patterns"
    return "no: a state comes twice, so it splits into shorter patterns"


def _hands_text(pattern: Pattern) -> str:
    if swaps_hands(pattern):
        return "they swap: each repetition is the mirror image of the one before"
    return "they keep their parts in every repetition"


def _start_text(pattern: Pattern, objects: dict[str, list[Stop]], first: Hand) -> str:
    texts = []
    for hand, held in start(pattern, first).items():
        names = [name for name, stops in objects.items() if stops[0].hand == hand]
        texts.append(f"{hand} hand {held}" + (f" ({listed(names)})" if 0 < held <= FEW else ""))
    begins = "both hands begin" if pattern.kind == "sync" else f"the {first} hand begins"
    return f"{', '.join(texts)}; {begins}"


def pattern_document(pattern: Pattern, first: Hand = "right") -> Document:
    """Return everything about a pattern that can be thrown, for JSON."""
    return {
        "pattern": pattern.text,
        "valid": True,
        "kind": pattern.kind,
        "multiplex": pattern.multiplex,
        "objects": pattern.objects,
        "period": pattern.period,
        "true_period": true_period(pattern),
        "highest": pattern.highest,
        "ground": ground(pattern),
        "visits_ground": visits_ground(pattern),
        "prime": is_prime(pattern),
        "state": due_by_beat(pattern),
        "start": start(pattern, first),
        "orbits": [
            {"objects": orbit.objects, "beats": orbit.beats, "throws": orbit.throws}
            for orbit in orbits(pattern, first)
        ],
        "swaps_hands": swaps_hands(pattern),
        "difficulty": round(difficulty(pattern).number, 3),
        "name": name_of(pattern) or None,
    }


EPILOG = """\
\b
Examples:
  throwcount check 531
  throwcount check "(4,2x)*"
  throwcount check "[33]33" --json
  throwcount check "5 cascade"
  throwcount check 97531 --picture 97531.svg
"""


@click.command("check", cls=PatternCommand, epilog=EPILOG, context_settings=HELP_OPTIONS)
@click.argument("pattern")
@first_option
@picture_option
@force_option
@json_option
def check_command(
    pattern: str, first: Hand, picture: "Path | None", force: bool, as_json: bool
) -> None:
    """Say whether a pattern can be thrown, and describe it.

    The page shows its objects, period and state, how hard it is and why, what each object does,
    what the hands hold at the start, and a picture of the beats. If the pattern cannot be thrown,
    it says why, and the exit status is 1.
    """
    from throwcount.caller.commands.shared import reporting_wrong_input
    from throwcount.engine.patterns.rules import read

    with reporting_wrong_input(pattern):
        known = read(pattern)
    if picture is not None:
        from throwcount.caller.pictures.pattern_picture import draw_pattern

        draw_pattern(known, picture, first, overwrite=force)
    if as_json:
        show_json(pattern_document(known, first))
    else:
        show(*pattern_page(known, terminal_size().columns, first))
