"""`throwcount check`: whether a pattern can be thrown, and what it is."""

from pathlib import Path

import click

from caller.commands import HELP_OPTIONS
from caller.console.picture_file import force_option, picture_option
from caller.console.printable import terminal_size
from caller.options.arguments import PatternCommand, first_option, json_option
from caller.patterns.pattern_page import pattern_page
from engine.patterns.pattern import Hand

EPILOG = """\
\b
Examples:
  throwcount check 531
  throwcount check "(4,2x)*"
  throwcount check "[33]33" --json
  throwcount check 97531 --picture 97531.svg
"""


@click.command("check", cls=PatternCommand, epilog=EPILOG, context_settings=HELP_OPTIONS)
@click.argument("pattern")
@first_option
@picture_option
@force_option
@json_option
def check_command(
    pattern: str, first: Hand, picture: Path | None, force: bool, as_json: bool
) -> None:
    """Say whether a pattern can be thrown, and what it is.

    The page tells its objects, period and state, what each object does, what the hands hold at
    the start, and draws the beats. Where it cannot be thrown, it is told why; the status is then 1.
    """
    from caller.console.terminal import show, show_json
    from caller.patterns.wrong_pattern import wrong_input_told
    from engine.patterns.jugglable import read

    with wrong_input_told(pattern, as_json):
        known = read(pattern)
    if picture is not None:
        from caller.patterns.pattern_picture import draw_pattern

        draw_pattern(known, picture, first, overwrite=force)
    if as_json:
        from caller.patterns.pattern_document import pattern_document

        show_json(pattern_document(known, first))
    else:
        show(*pattern_page(known, terminal_size().columns, first))
