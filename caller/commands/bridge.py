"""`throwcount bridge`: the throws that lead from one pattern to another."""

from itertools import islice
from typing import Final

import click

from caller.commands import HELP_OPTIONS
from caller.console.printable import terminal_size
from caller.console.terminal import show, show_json
from caller.options.arguments import PatternCommand, WholeRange, first_option, json_option
from caller.patterns.bridge_page import GROUND, bridge_document, bridge_line, bridge_page, end_name
from caller.patterns.pattern_list import write_json, write_lines
from caller.patterns.wrong_pattern import wrong_input_told
from engine.finding.bridge import bridge, bridges
from engine.patterns.jugglable import read
from engine.patterns.pattern import HIGHEST_VALUE, Hand, Pattern

EPILOG: Final = """\
\b
Examples:
  throwcount bridge 3 51
  throwcount bridge 51 GROUND
  throwcount bridge 53 71 --any-rotation --highest 7
  throwcount bridge "(4x,2x)" "(2x,4x)" --all
"""


@click.command("bridge", cls=PatternCommand, epilog=EPILOG, context_settings=HELP_OPTIONS)
@click.argument("leaving", metavar="FROM")
@click.argument("entering", metavar="TO")
@click.option(
    "--highest",
    type=WholeRange(1, HIGHEST_VALUE),
    metavar="H",
    help="The highest throw of the bridge.  [default: the highest of both patterns]",
)
@click.option(
    "--any-rotation", is_flag=True, help="Leave and enter the patterns wherever it is shortest."
)
@click.option("--all", "every", is_flag=True, help="All the shortest, one a line.")
@click.option(
    "--limit", type=WholeRange(min=1), metavar="L", help="With --all, stop after L bridges."
)
@first_option
@json_option
def bridge_command(  # noqa: PLR0913, PLR0917 - click gives every option as an argument of its own
    leaving: str,
    entering: str,
    highest: int | None,
    any_rotation: bool,
    every: bool,
    limit: int | None,
    first: Hand,
    as_json: bool,
) -> None:
    """Find the throws that lead from one pattern to another.

    They are thrown without a stop. FROM is left, and TO is entered, as they are written; the word
    GROUND stands for the ground state, from which most patterns are begun. Shown is a bridge with
    the fewest throws, and of these one whose highest throw is lowest. It throws no more objects
    from a hand at once than the patterns do. Where the hands alternate, FROM's first throw is the
    right hand's.
    """
    start, end = _end(leaving, as_json), _end(entering, as_json)
    with wrong_input_told(f"{leaving} {entering}", as_json):
        shortest = bridge(start, end, highest, any_rotation=any_rotation)
    names = {"from": end_name(start), "to": end_name(end)}
    if every:
        found = islice(bridges(start, end, highest, any_rotation=any_rotation), limit)
        if as_json:
            write_json((bridge_document(one, first) for one in found), "bridges", **names)
        else:
            write_lines(bridge_line(one, any_rotation) for one in found)
    elif as_json:
        show_json(names | bridge_document(shortest, first))
    else:
        show(*bridge_page(shortest, start, end, first, terminal_size().columns))


def _end(text: str, as_json: bool) -> Pattern | None:
    """Return the pattern of one end; None for the ground state."""
    if text.upper() == GROUND:
        return None
    with wrong_input_told(text, as_json):
        return read(text)
