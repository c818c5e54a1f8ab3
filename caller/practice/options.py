"""The options of a practice: sets, rests, how the tempo moves, and what is kept."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import click

from caller.options.arguments import Decorated, FiniteRange, WholeRange, chosen, with_options
from caller.practice_log.place import log_option
from engine.practising.marks import MARKS, Mark
from engine.practising.staircase import CLEAN_SETS

NOT_COUNTED: Final = "nothing"
LONGEST_REST: Final = 3600.0
LARGEST_RAISE: Final = 200.0
CLEAN_IN_A_ROW: Final = (1, 10)


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeOptions:
    """What a person asked for of a practice.

    Parameters
    ----------
    sets, rounds
        Sets a round, and rounds of them; sets are None for one that goes on until it is stopped.
    rest, round_rest
        Seconds between sets, and between rounds.
    raise_by, back
        Beats a minute from set to set, and whether it comes back.
    staircase, clean_sets
        Whether the tempo follows the marks, and after how many clean sets it goes up.
    unmarked
        How a set counts that got no mark.
    resume
        Whether to begin at the tempo last held.
    props
        What is juggled.
    keep
        Whether the practice is kept in the log.
    log_file
        The practice log.
    """

    sets: int | None = None
    rounds: int = 1
    rest: float = 20.0
    round_rest: float = 60.0
    raise_by: float = 0.0
    back: bool = False
    staircase: bool = False
    clean_sets: int = CLEAN_SETS
    unmarked: Mark | None = None
    resume: bool = False
    props: str = ""
    keep: bool = True
    log_file: Path = Path()


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


def practice_from(given: Mapping[str, Any]) -> PracticeOptions:
    """Return checked options from click's arguments, of which others may be among them.

    Raises
    ------
    click.UsageError
        If two options contradict each other.
    """
    asked = chosen(given, PracticeOptions)
    if asked.get("unmarked") == NOT_COUNTED:
        asked["unmarked"] = None
    options = PracticeOptions(**asked)
    _check(options)
    return options


def _check(options: PracticeOptions) -> None:
    if options.staircase and (options.raise_by or options.back):
        raise click.UsageError(
            "--staircase lets the marks move the tempo, so --raise and --back have no place in it."
        )
    if options.back and not options.raise_by:
        raise click.UsageError("--back comes back from a tempo that was raised; add --raise BPM.")
    total = (options.sets or 1) * options.rounds
    if options.back and total < 3:  # noqa: PLR2004 - there, the turn, and back
        raise click.UsageError("--back needs at least 3 sets: there, the turn, and back.")
    if options.rounds > 1 and options.sets is None:
        raise click.UsageError("--rounds repeats a number of sets; say how many with --sets N.")
