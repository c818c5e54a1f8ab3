"""The options of a practice, and those of listening to one while it goes on."""

from typing import Final

import click

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
from throwcount.caller.pictures.sheet import force_option, picture_option
from throwcount.engine.practice.tempo_rules import CLEAN_SETS, MARKS

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
    option("--rest SECONDS", FiniteRange(0, LONGEST_REST), "Rest between two sets.", default=20),
    option(
        "--round-rest SECONDS", FiniteRange(0, LONGEST_REST), "Rest between two rounds.", default=60
    ),
    flag(
        "--speak-rests/--no-speak-rests",
        "Say the rests, the time left of them, and the tempo reached at the end, or not.",
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
        "Raise the staircase after N clean sets in a row.",
        default=CLEAN_SETS,
    ),
    option(
        "--unmarked",
        click.Choice((*MARKS, NOT_COUNTED)),
        "Choose how a set without a mark counts.",
        default=NOT_COUNTED,
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
