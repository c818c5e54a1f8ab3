"""`throwcount heights`: how high each throw goes at a tempo, and what fits under a ceiling."""

import click

from caller.commands import HELP_OPTIONS
from caller.console.terminal import show, show_json
from caller.options.arguments import FiniteRange, PatternCommand, dwell_option, json_option
from caller.patterns.heights_page import Question, heights_document, heights_page
from caller.patterns.wrong_pattern import wrong_input_told
from caller.settings.file import settings_option
from engine.patterns.flight import HANDS_HEIGHT, default_tempo
from engine.patterns.jugglable import read
from engine.timing.tempo import FASTEST_TEMPO, SLOWEST_TEMPO

EPILOG = """\
\b
Examples:
  throwcount heights 744
  throwcount heights 97531 --tempo 220 --ceiling 2.6 --hands 1.1
  throwcount heights 5 --height 1.5
"""


@click.command("heights", cls=PatternCommand, epilog=EPILOG, context_settings=HELP_OPTIONS)
@click.argument("pattern")
@click.option(
    "--tempo",
    type=FiniteRange(SLOWEST_TEMPO, FASTEST_TEMPO),
    metavar="BPM",
    help="Beats a minute.  [default: the highest throw rises about a metre]",
)
@dwell_option
@click.option(
    "--ceiling", type=FiniteRange(min=0), metavar="M", help="Height of the room, in metres."
)
@click.option(
    "--hands",
    type=FiniteRange(min=0),
    metavar="M",
    default=HANDS_HEIGHT,
    show_default=True,
    help="Height of the hands above the floor, in metres.",
)
@click.option(
    "--height",
    type=FiniteRange(min=0, min_open=True),
    metavar="M",
    help="Tell the tempo at which the highest throw rises so many metres above the hands.",
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

    A throw has to stay in the air for its beats, so the slower the tempo, the higher it goes.
    With --ceiling the slowest tempo that the room allows is told too, and with --height the one
    for a height of your choice.
    """
    with wrong_input_told(pattern, as_json):
        known = read(pattern)
        asked = float(default_tempo(known)) if tempo is None else tempo
        question = Question(known, asked, dwell, ceiling, hands, tempo is not None, height)
        document = heights_document(question)
    if as_json:
        show_json(document)
    else:
        show(*heights_page(question))
