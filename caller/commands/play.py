"""`throwcount play`: practise a pattern, or rehearse a routine, live and hands-free."""

from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import click

from caller.commands import HELP_OPTIONS
from caller.options.arguments import PatternCommand
from caller.options.live_options import live_options
from caller.options.routine_options import refuse_without_routine
from caller.options.shared_options import options_from, shared_options
from caller.practice.options import practice_from, practice_options
from caller.settings.file import settings_option

EPILOG: Final = """\
\b
Examples:
  throwcount play 531
  throwcount play 744 --tempo 200 --to 240 --cycles 40
  throwcount play 531 --sets 12 --staircase --unmarked clean
  throwcount play walk.toml --from "the well" --percent 80
"""


EVERYDAY: Final = (
    *("--tempo", "--to", "--cycles", "--seconds", "--percent", "--from", "--ready"),
    *("--say", "--clicks", "--voice", "--sets", "--rest", "--output"),
)


@click.command(
    "play", cls=PatternCommand, everyday=EVERYDAY, epilog=EPILOG, context_settings=HELP_OPTIONS
)
@click.argument("subject")
@shared_options
@practice_options
@live_options
@settings_option
def command(
    subject: str,
    **given: Any,  # noqa: ANN401 - the options, checked when they become dataclasses
) -> None:
    """Play a pattern or a routine, throw by throw.

    SUBJECT is a pattern, such as 531, or a routine file. Every beat has a click and a spoken
    value. A pattern goes on until you stop it, unless you give a length.

    With --sets or --staircase a pattern is a practice of sets of 16 cycles, unless you give
    another length. A routine is gone through once, or as often as --sets says. Every set, every
    part and every mark is kept in the practice log.
    """
    from caller.patterns.wrong_pattern import wrong_input_told
    from caller.practice.playing import Wishes, play_pattern, play_routine
    from caller.practice.routine_session import check_practice
    from caller.rehearsals.asked_routine import asked_routine
    from caller.routine_file.reading import is_routine_file
    from engine.patterns.jugglable import read

    wishes = Wishes.of(options_from(given), practice_from(given), given)
    if is_routine_file(subject):
        check_practice(wishes.practice)
        asked = asked_routine(Path(subject), wishes.options)
        play_routine(asked.file, asked.laid, replace(wishes, options=asked.options))
    else:
        refuse_without_routine(wishes.options)
        with wrong_input_told(subject, as_json=False):
            pattern = read(subject)
        play_pattern(pattern, wishes)
