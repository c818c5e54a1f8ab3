"""`throwcount heights`: how long and how high each throw flies, and what fits under a ceiling."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import click
from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.commands.shared import reporting_wrong_input
from throwcount.caller.options.arguments import (
    ROOM_HEIGHTS,
    FiniteRange,
    PatternCommand,
    ceiling_option,
    dwell_option,
    hands_option,
    json_option,
    option,
)
from throwcount.caller.options.settings import settings_option
from throwcount.caller.terminal.printing import (
    ROOM_CAUTION,
    shortened,
    show,
    show_json,
    table,
    warn,
)
from throwcount.engine.patterns.flight import (
    Room,
    default_tempo,
    default_tempo_reason,
    flight_seconds,
    hand_rate,
    tempo_for_height,
    tempo_warnings,
)
from throwcount.engine.patterns.pattern import HELD_VALUE, Pattern, Throw
from throwcount.engine.patterns.rules import read
from throwcount.engine.timing.tempo import FASTEST_TEMPO, SLOWEST_TEMPO


@dataclass(frozen=True, slots=True)
class HeightsQuestion:
    """What is asked about a pattern."""

    pattern: Pattern
    """A pattern that can be thrown."""
    tempo: float
    """Beats a minute."""
    room: Room
    """The room and the hands."""
    tempo_chosen: bool
    """Whether the person chose the tempo."""
    wanted: float | None = None
    """Height in metres above the hands for the highest throw; None where none is asked for."""

    @property
    def throws(self) -> list[Throw]:
        """The throws of the pattern that differ in flight, the highest first."""
        made = {throw for _, throw in self.pattern.throws()}
        if any(not throws for turn in self.pattern.turns for throws in turn):
            made.add(Throw(0))
        # Crossing changes only the flight of a 2, which is then thrown and not held.
        kinds = {(throw.value, not throw.held): throw for throw in sorted(made, key=str)}
        return [kinds[kind] for kind in sorted(kinds, reverse=True)]

    @property
    def slowest(self) -> float | None:
        """The slowest tempo that the ceiling allows; None without one, or where nothing flies."""
        tempos = [self.room.slowest_tempo(throw) for throw in self.throws]
        return max((tempo for tempo in tempos if tempo is not None), default=None)

    @property
    def warnings(self) -> Iterator[str]:
        """What is wrong with the tempo, for the highest throw or for the hands."""
        found = tempo_warnings(self.throws, self.tempo, self.tempo, self.room)
        return (warning.sentence for warning in found)

    @property
    def tempo_wanted(self) -> float | None:
        """The tempo at which the highest throw reaches the height asked for; None without one."""
        if self.wanted is None:
            return None
        tempos = [
            tempo_for_height(throw.value, self.wanted, self.room.dwell, crossed=throw.crossed)
            for throw in self.throws
        ]
        return max((tempo for tempo in tempos if tempo is not None), default=None)

    @property
    def hand_seconds(self) -> tuple[float, float]:
        """Seconds that a hand holds an object, and is empty, between two of its throws."""
        between = 60 / hand_rate(self.tempo)
        return self.room.dwell * between, (1 - self.room.dwell) * between

    def flight(self, throw: Throw) -> float | None:
        """Return how many seconds a throw is in the air; None if it does not fly."""
        return flight_seconds(throw.value, self.tempo, self.room.dwell, crossed=throw.crossed)

    def height(self, throw: Throw) -> float | None:
        """Return how many metres a throw rises above the hands; None if it does not fly."""
        return self.room.height(throw, self.tempo)


def heights_document(question: HeightsQuestion) -> dict[str, Any]:
    """Return the answer for JSON."""
    return {
        "tempo": question.tempo,
        "dwell": question.room.dwell,
        "throws": [
            {
                "value": throw.value,
                "flight_s": question.flight(throw),
                "height_m": question.height(throw),
            }
            for throw in question.throws
        ],
        "slowest_tempo": question.slowest,
        "tempo_for_height": question.tempo_wanted,
        "hand_throws_per_second": hand_rate(question.tempo) / 60,
        "hand_full_s": question.hand_seconds[0],
        "hand_empty_s": question.hand_seconds[1],
        "warnings": list(question.warnings),
    }


def heights_page(question: HeightsQuestion) -> Iterator[RenderableType]:
    """Yield the parts of the page, from top to bottom."""
    slowest = question.slowest
    yield Text(_tempo_text(question))
    if question.pattern.objects:
        yield Text(_hands_text(question))
    yield Text()
    yield _heights_table(question)
    if question.wanted is not None:
        yield Text()
        yield Text(_wanted_text(question.wanted, question.tempo_wanted))
    if question.room.ceiling is not None:
        yield Text()
        yield Text(_ceiling_text(question, slowest))
    if slowest is not None:
        yield Text()
        yield Text(ROOM_CAUTION, "dim")


def _tempo_text(question: HeightsQuestion) -> str:
    text = f"{question.tempo:g} beats a minute."
    if not question.tempo_chosen:
        text = default_tempo_reason(question.pattern, room=question.room)
    return f"{shortened(question.pattern.text)} at {text}"


def _hands_text(question: HeightsQuestion) -> str:
    full, empty = question.hand_seconds
    rate = hand_rate(question.tempo) / 60
    return (
        f"Each hand throws {rate:.2f} times a second: it holds an object for {full:.3f} s, and is "
        f"empty for {empty:.3f} s."
    )


def _wanted_text(metres: float, tempo: float | None) -> str:
    if tempo is None:
        return "No tempo sends a throw up, as nothing leaves the hands."
    return f"The highest throw rises {metres:g} m at {tempo:.1f} beats a minute."


def _heights_table(question: HeightsQuestion) -> Table:
    from_floor = ["above the floor"] if question.room.ceiling is not None else []
    columns = ["in the air", "above the hands", *from_floor]
    shown = table("throw", *columns, numbers=columns)
    for throw in question.throws:
        seconds, metres = question.flight(throw), question.height(throw)
        if seconds is None or metres is None:
            shown.add_row(_throw_text(throw), *("-" for _ in columns))
        else:
            floor = [f"{metres + question.room.hands:.2f} m"] if from_floor else []
            shown.add_row(_throw_text(throw), f"{seconds:.3f} s", f"{metres:.2f} m", *floor)
    return shown


def _throw_text(throw: Throw) -> str:
    if throw.held:
        return "2, held"
    if throw.value == 0:
        return "0, empty hand"
    return "2x" if throw.value == HELD_VALUE else str(Throw(throw.value))


def _ceiling_text(question: HeightsQuestion, slowest: float | None) -> str:
    ceiling, hands = question.room.ceiling, question.room.hands
    room = f"Under a ceiling at {ceiling:g} m, with the hands at {hands:g} m,"
    if slowest is None:
        return f"{room} every tempo will do, as nothing leaves the hands."
    # Rounded up, so that the tempo told is fast enough.
    return f"{room} the slowest tempo is {math.ceil(slowest * 10) / 10:g} beats a minute."


EPILOG = """\
\b
Examples:
  throwcount heights 744
  throwcount heights 97531 --tempo 220 --ceiling 2.6 --hands 1.1
  throwcount heights 5 --height 1.5
"""


@click.command("heights", cls=PatternCommand, epilog=EPILOG, context_settings=HELP_OPTIONS)
@click.argument("pattern")
@option(
    "--tempo BPM",
    FiniteRange(SLOWEST_TEMPO, FASTEST_TEMPO),
    "Set the tempo.  [default: suits the highest throw]",
)
@dwell_option
@ceiling_option
@hands_option
@option(
    "--height M",
    FiniteRange(0, ROOM_HEIGHTS[1], min_open=True),
    "Show the tempo at which the highest throw rises M metres above the hands.",
)
@settings_option
@json_option
def heights_command(  # noqa: PLR0913, PLR0917 - click gives every option as an argument of its own
    pattern: str,
    tempo: float | None,
    dwell: float,
    ceiling: float | None,
    hands: float,
    height: float | None,
    as_json: bool,
) -> None:
    """Show how high each throw of a pattern goes at a tempo.

    A throw has to stay in the air for its beats: the slower the tempo, the higher it goes.
    --ceiling also tells the slowest tempo that the room allows, and --height the tempo for a
    height of your choice.
    """
    with reporting_wrong_input(pattern):
        known = read(pattern)
        room = Room(ceiling, hands, dwell)
        asked = float(default_tempo(known, room=room)) if tempo is None else tempo
        question = HeightsQuestion(known, asked, room, tempo is not None, height)
        document = heights_document(question)
    if as_json:
        show_json(document)
    else:
        show(*heights_page(question))
        warn(*question.warnings)
