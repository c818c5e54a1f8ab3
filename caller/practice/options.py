"""The options of a practice: sets, rests, how the tempo moves, and what is kept."""

from typing import Final

import click

from caller.options.arguments import Decorated, FiniteRange, WholeRange, with_options
from caller.practice_log.place import log_option
from engine.practising.marks import MARKS
from engine.practising.staircase import CLEAN_SETS

NOT_COUNTED: Final = "nothing"
LONGEST_REST: Final = 3600.0
LARGEST_RAISE: Final = 200.0
CLEAN_IN_A_ROW: Final = (1, 10)


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
