"""The options of a practice, and those of listening to one while it goes on."""

from typing import Any, Final

import click
from click.shell_completion import CompletionItem

from throwcount.caller.options.arguments import (
    CLEAN_IN_A_ROW,
    FILE,
    LONGEST_REST,
    NOT_COUNTED,
    FiniteRange,
    WholeRange,
    flag,
    in_order,
    json_option,
    log_option,
    option,
)
from throwcount.caller.options.request import ON_DROPS, REST_OF_ATTEMPTS, REST_OF_SETS
from throwcount.caller.pictures.sheet import force_option, picture_option
from throwcount.caller.terminal.printing import shortened
from throwcount.caller.terminal.text import near
from throwcount.engine.practice.goals import NAMED_GOALS, Goal
from throwcount.engine.practice.tempo_rules import CLEAN_SETS, MARKS


class GoalChoice(click.ParamType[Goal]):
    """A goal by its name, or a number of catches."""

    name = "goal"

    def convert(
        self,
        value: Any,  # noqa: ANN401 - as in click
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> Goal:
        """Return the goal that a person wrote."""
        named = next((goal for goal in NAMED_GOALS if goal == value), None)
        if named is not None or isinstance(value, int):
            return named or value
        digits = value.lstrip("0") if value.isascii() and value.isdigit() else ""
        # Python reads no number of thousands of digits.
        if not 1 <= len(digits) <= len(str(MOST_CATCHES)) or int(digits) > MOST_CATCHES:
            self.fail(
                f"{shortened(value)!r} is no goal: it is flash, qualify, or a number of catches "
                f"from 1 to {MOST_CATCHES:,}.{near(value, NAMED_GOALS)}",
                param,
                ctx,
            )
        return int(digits)

    def shell_complete(
        self, _ctx: click.Context, _param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        """Offer the names of goals."""
        return [CompletionItem(name) for name in NAMED_GOALS if name.startswith(incomplete)]


MOST_CATCHES: Final = 100_000
"""The most catches of a goal."""

LARGEST_RAISE: Final = 200.0
"""Beats a minute."""

practice_options = in_order(
    option("--sets N", WholeRange(1), "Practise N sets, with rests between."),
    option(
        "--rounds N",
        WholeRange(1),
        "Repeat the sets N times, with a longer rest between.",
        default=1,
    ),
    option(
        "--attempts N",
        WholeRange(1),
        "Practise N attempts, each until the drop, whose catches are told and kept.",
    ),
    option(
        "--goal GOAL",
        GoalChoice(),
        "Say what an attempt is to reach: flash, qualify, or a number of catches.",
    ),
    option("--goal-times N", WholeRange(1), "End the attempts when the goal has been met N times."),
    option(
        "--on-drop",
        click.Choice(ON_DROPS),
        "Choose whether a drop ends the set, or only marks it and the count goes on.",
        default=None,
        show_default="stop; go-on in a routine, unless --until-clean",
    ),
    option(
        "--rest SECONDS",
        FiniteRange(0, LONGEST_REST),
        "Rest between two sets or attempts.",
        show_default=f"{REST_OF_SETS:g}; {REST_OF_ATTEMPTS:g} between attempts",
    ),
    flag("--wait", "Begin, and go on after every rest, at the press of a key or pedal."),
    option(
        "--round-rest SECONDS", FiniteRange(0, LONGEST_REST), "Rest between two rounds.", default=60
    ),
    flag(
        "--speak-rests/--no-speak-rests",
        "Say the rests, the time left of them, the catches of a run, and the tempo or best run "
        "at the end, or not.",
        default=True,
    ),
    option(
        "--raise BPM",
        FiniteRange(-LARGEST_RAISE, LARGEST_RAISE),
        "Raise the tempo by this much with every set; less than 0 slows down.",
        name="raise_by",
        default=0,
    ),
    flag("--back", "Come back: the second half of the sets slows down again."),
    flag("--staircase", "Let the tempo follow the marks: up after clean sets, down after a drop."),
    option(
        "--clean-sets N",
        WholeRange(*CLEAN_IN_A_ROW),
        "Raise the staircase after N clean sets in a row; until the first drop, after each.",
        default=CLEAN_SETS,
    ),
    option(
        "--unmarked",
        click.Choice((*MARKS, NOT_COUNTED)),
        "Choose how a set without a mark counts.",
        default=NOT_COUNTED,
    ),
    option(
        "--until-clean N",
        WholeRange(1),
        "Repeat a routine, or its parts --from A --until B, until it was clean N times in a row.",
    ),
    flag("--resume", "Begin at the tempo last held clean."),
    option(
        "--props NAME",
        str,
        "Name what you juggle, such as clubs, for the log.",
        default="",
        show_default=False,
    ),
    flag("--keep/--no-keep", "Keep the practice in the log, or not.", default=True),
    log_option,
)

listening_options = in_order(
    option(
        "--input DEVICE",
        str,
        "Choose the microphone: any part of a name that no other input has.",
        name="microphone",
    ),
    flag(
        "--headphones",
        "Take all that the microphone hears for catches: the call is on headphones.",
    ),
    flag(
        "--mark-drops",
        "Mark the drops that are heard, as the key does; a clean mark takes them back.",
    ),
    option("--take FILE", FILE, "Keep the recording; without this it is deleted at the end."),
    picture_option,
    force_option,
    json_option,
)
