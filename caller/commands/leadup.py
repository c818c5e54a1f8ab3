"""`throwcount leadup`: the steps up to a throw or a pattern that is not yet mastered."""

from typing import Final

import click

from caller.arguments import PatternCommand, WholeRange, json_option
from caller.leadup_page import leadup_document, leadup_page
from caller.terminal import show, show_json
from caller.wrong_pattern import wrong_input_told
from engine.jugglable import read
from engine.leadup import lead_up, usual_safe

EPILOG: Final = """\
\b
Examples:
  throwcount leadup 7
  throwcount leadup 97531 --objects 3
  throwcount leadup "(4,2x)*" --json
"""


@click.command("leadup", cls=PatternCommand, epilog=EPILOG)
@click.argument("target")
@click.option(
    "--objects",
    "safe",
    type=WholeRange(min=1),
    metavar="N",
    help="How many objects you handle safely now.  [default: one fewer than TARGET has]",
)
@json_option
def command(target: str, safe: int | None, as_json: bool) -> None:
    """Lay out the steps to a throw or a pattern.

    TARGET is a pattern; its highest throw is the new one. The first step has that throw with
    fewer objects, each further step adds one object, or more of the new throw, and changes as
    little else as can be.
    """
    with wrong_input_told(target, as_json):
        known = read(target)
        handled = safe or usual_safe(known)
        steps = lead_up(known, handled)
    if as_json:
        show_json(leadup_document(known, steps, handled))
    else:
        show(*leadup_page(known, steps, handled))
