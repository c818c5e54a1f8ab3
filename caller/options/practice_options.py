"""The options of a practice: sets, rests, how the tempo moves, and what is kept.

The options of listening to a practice while it goes on.
"""

from pathlib import Path
from typing import Final

import click

from throwcount.caller.options.arguments import (
    CLEAN_IN_A_ROW,
    LONGEST_REST,
    NOT_COUNTED,
    Decorated,
    FiniteRange,
    WholeRange,
    dwell_option,
    json_option,
    log_option,
    with_options,
)
from throwcount.caller.pictures.sheet import force_option, picture_option
from throwcount.engine.practice.tempo_rules import CLEAN_SETS, MARKS

LARGEST_RAISE: Final = 200.0


PRACTICE: Final = (
    click.option("--sets", type=WholeRange(1), metavar="N", help="Sets, with rests between."),
    click.option(
        "--rounds",
        type=WholeRange(1),
        default=1,
        metavar="N",
        help="Rounds of so many sets, with a longer rest between.",
    ),
    click.option(
        "--rest",
        type=FiniteRange(0, LONGEST_REST),
        default=20.0,
        show_default=True,
        metavar="SECONDS",
        help="Rest between two sets.",
    ),
    click.option(
        "--round-rest",
        type=FiniteRange(0, LONGEST_REST),
        default=60.0,
        show_default=True,
        metavar="SECONDS",
        help="Rest between two rounds.",
    ),
    click.option(
        "--raise",
        "raise_by",
        type=FiniteRange(-LARGEST_RAISE, LARGEST_RAISE),
        default=0.0,
        metavar="BPM",
        help="Beats a minute more with every set; less than 0 to slow down.",
    ),
    click.option(
        "--back", is_flag=True, help="Come back: the second half of the sets slows down again."
    ),
    click.option(
        "--staircase",
        is_flag=True,
        help="Let the tempo follow the marks: up after clean sets, down after a drop.",
    ),
    click.option(
        "--clean-sets",
        type=WholeRange(*CLEAN_IN_A_ROW),
        default=CLEAN_SETS,
        show_default=True,
        metavar="N",
        help="Clean sets in a row that raise the staircase.",
    ),
    click.option(
        "--unmarked",
        type=click.Choice((*MARKS, NOT_COUNTED)),
        default=NOT_COUNTED,
        show_default=True,
        help="How a set counts that got no mark.",
    ),
    click.option("--resume", is_flag=True, help="Begin at the tempo last held clean."),
    click.option("--props", default="", metavar="NAME", help="What you juggle, for the log."),
    click.option("--keep/--no-keep", default=True, help="Keep the practice in the log, or not."),
    log_option,
)


def practice_options(command: Decorated) -> Decorated:
    """Add the options of a practice to a command."""
    return with_options(PRACTICE, command)


LISTENING_OPTIONS: Final = (
    click.option(
        "--input",
        "microphone",
        metavar="DEVICE",
        help="The microphone: any part of a name that no other input has.",
    ),
    click.option(
        "--headphones",
        is_flag=True,
        help="You hear the call on headphones: the microphone hears catches alone.",
    ),
    click.option(
        "--mark-drops",
        is_flag=True,
        help="Mark the drops that are heard, as the key does; a clean mark takes them back.",
    ),
    click.option(
        "--take",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="Keep the recording; without this it is deleted at the end.",
    ),
    dwell_option,
    picture_option,
    force_option,
    json_option,
)


def listening_options(command: Decorated) -> Decorated:
    """Add the options of listening to a practice to a command."""
    return with_options(LISTENING_OPTIONS, command)
