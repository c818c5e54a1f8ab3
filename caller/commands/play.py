"""`throwcount play`: a pattern or a session practised, a routine rehearsed, live and hands-free."""

from typing import Final

import click

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.options.arguments import PatternCommand
from throwcount.caller.options.play_options import live_options, shared_options
from throwcount.caller.options.practice_options import practice_options
from throwcount.caller.options.request import Request
from throwcount.caller.options.settings import settings_option

EPILOG: Final = """\
\b
Examples:
  throwcount play 531
  throwcount play 744 --tempo 200 --to 240 --cycles 40
  throwcount play 531 --sets 24 --staircase --unmarked clean
  throwcount play 5 --attempts 10 --goal qualify
  throwcount play 744 --attempts 20 --goal 50 --goal-times 3 --one-pedal
  throwcount play 531 --sets 5 --say nothing --no-speak-rests
  throwcount play walk.toml --from "the well" --percent 80
  throwcount play tuesday.toml
"""


EVERYDAY: Final = (
    *("--tempo", "--to", "--cycles", "--seconds", "--percent", "--from"),
    *("--say", "--clicks", "--voice", "--sets", "--attempts", "--rest", "--output"),
)


def _named(ctx: click.Context, param: click.Parameter, subject: str | None) -> str | None:
    """Return the subject; say what it may be if there is none."""
    if subject is None and not ctx.resilient_parsing:
        raise click.MissingParameter(
            "It is a pattern, a routine file or a session file. To begin your usual session "
            'without it, name that in your settings, as in session = "tuesday.toml": see '
            "`throwcount settings`.",
            ctx,
            param,
            "'SUBJECT'",
        )
    return subject


@click.command(
    "play", cls=PatternCommand, everyday=EVERYDAY, epilog=EPILOG, context_settings=HELP_OPTIONS
)
@click.argument("subject", required=False, callback=_named)
@shared_options
@practice_options
@live_options
@settings_option
@click.pass_context
def play_command(ctx: click.Context, /, **_options: object) -> None:
    """Play a pattern, a routine or a session, throw by throw.

    SUBJECT is a pattern, such as 531, a routine file, or a session file: the usual one of your
    settings if left out. Every beat has a click and a spoken value. A pattern goes on until you
    stop it, unless you give a length.

    A drop that you mark by key or pedal ends what you throw: it falls silent, you are told your
    catches, and after a rest it goes again. With --attempts that is the whole practice. With
    --sets or --staircase a pattern is practised in sets of 16 cycles, unless you give another
    length. A routine is gone through once, or as often as --sets says. Every set, every part and
    every mark is kept in the practice log.

    Catches of a run count up to 0.3 s before the press that tells of the drop, which is a
    person's reaction.
    """
    from throwcount.sounds.output.messages import Opening, early_player

    request = Request.of(ctx, live=True)
    with early_player(Opening(request.output, request.rate, request.latency)) as child:
        # What follows takes about as long to load as the process that plays.
        from throwcount.caller.commands.shared import read_subject
        from throwcount.caller.practice.sessions import play

        play(read_subject(request), request, child=child)
