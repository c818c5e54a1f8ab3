"""`throwcount leadup`: the steps up to a throw or a pattern that is not yet mastered."""

from pathlib import Path
from typing import Final

import click

from caller.commands import HELP_OPTIONS
from caller.console.picture_file import force_option
from caller.console.terminal import show, show_json, tell
from caller.options.arguments import PatternCommand, WholeRange, json_option
from caller.patterns.leadup_page import leadup_document, leadup_page
from caller.patterns.leadup_routine import routine_lines
from caller.patterns.wrong_pattern import wrong_input_told
from engine.leadups.leadup import lead_up, usual_safe
from engine.patterns.jugglable import read
from sounds.files.whole_file import write_text

EPILOG: Final = """\
\b
Examples:
  throwcount leadup 7
  throwcount leadup 97531 --from-objects 4
  throwcount leadup "(4,2x)*" --json
  throwcount leadup 7 --routine seven.toml
"""


@click.command("leadup", cls=PatternCommand, epilog=EPILOG, context_settings=HELP_OPTIONS)
@click.argument("target")
@click.option(
    "--from-objects",
    "safe",
    type=WholeRange(min=1),
    metavar="N",
    help="How many objects you handle safely now.  [default: one fewer than TARGET has]",
)
@click.option(
    "--routine",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the steps to this file too, as a routine: see `throwcount plan`.",
)
@force_option
@json_option
def leadup_command(
    target: str, safe: int | None, routine: Path | None, force: bool, as_json: bool
) -> None:
    """Lay out the steps to a throw or a pattern.

    TARGET is a pattern; its highest throw is the new one. The first step has that throw with
    fewer objects, each further step adds one object, or more of the new throw, and changes as
    little else as can be.
    """
    with wrong_input_told(target, as_json):
        known = read(target)
        handled = safe or usual_safe(known)
        steps = lead_up(known, handled)
    if routine is not None:
        write_text(routine, routine_lines(known, steps), overwrite=force)
    if as_json:
        written = {} if routine is None else {"routine": str(routine)}
        show_json(leadup_document(known, steps, handled) | written)
        return
    show(*leadup_page(known, steps, handled))
    if routine is not None:
        show("")
        tell(f"Wrote {routine}: `throwcount plan {routine}` lays it out, and `play` plays it.")
