"""`throwcount find`: the patterns of so many objects, so high and so long."""

from collections.abc import Iterable
from itertools import islice
from typing import Any, Final, get_args

import click

from caller.commands import HELP_OPTIONS
from caller.console.printable import terminal_size
from caller.console.search_bar import search_bar
from caller.console.terminal import show, show_json
from caller.errors import PlainError
from caller.options.arguments import (
    PatternCommand,
    WholeRange,
    from_one_hand_option,
    json_option,
    objects_argument,
    together_option,
)
from caller.options.find_options import (
    USUAL_BEST,
    FindRequest,
    Show,
    beats,
    complete_filters,
    filters,
    throw_value,
)
from caller.patterns.find_page import (
    NO_WORD,
    best_page,
    endless_told,
    is_endless,
    none_told,
    ranked_document,
)
from caller.patterns.pattern_list import count_up, write_count, write_json, write_lines
from caller.patterns.wrong_pattern import wrong_input_told
from engine.errors import EngineError
from engine.finding.counting import count
from engine.finding.ranking import Ranking
from engine.finding.search import PatternQuery, search, search_texts
from engine.finding.words import jugglable_words
from engine.patterns.pattern import HIGHEST_VALUE

EPILOG: Final = """\
\b
Examples:
  throwcount find 4
  throwcount find 4 --highest 7 --beats 3-6 --only prime --having 7 --lacking 2
  throwcount find 5 --beats 3 --show all
  throwcount find 4 --beats 4 --together
  throwcount find --words story.txt
"""


@click.command("find", cls=PatternCommand, epilog=EPILOG, context_settings=HELP_OPTIONS)
@objects_argument
@click.option(
    "--highest",
    type=WholeRange(1, HIGHEST_VALUE),
    metavar="H",
    help="The highest throw.  [default: OBJECTS + 4]",
)
@click.option(
    "--beats",
    type=beats,
    metavar="P",
    help="Beats until it repeats: 4, or several as in 3-6 or 3,5,8.  [default: 1-5]",
)
@click.option(
    "--only",
    type=filters,
    default=(),
    shell_complete=complete_filters,
    metavar="F,F",
    help="Only patterns that are all of these, with commas between: prime (no state comes "
    "twice), ground (it passes the ground state), symmetric (both hands do the same in the end), "
    "one-sided (each hand keeps throws of its own).",
)
@click.option(
    "--having",
    type=throw_value,
    multiple=True,
    metavar="V",
    help="Only patterns with this throw value; may be repeated.",
)
@click.option(
    "--lacking",
    type=throw_value,
    multiple=True,
    metavar="V",
    help="Only patterns without this throw value; may be repeated.",
)
@together_option
@from_one_hand_option
@click.option("--every-start", is_flag=True, help="Each rotation as a pattern of its own.")
@click.option(
    "--show",
    type=click.Choice(get_args(Show)),
    help="The best, with what speaks for them; all, as they are found; or how many there are.  "
    "[default: best, of words all]",
)
@click.option(
    "--limit",
    type=WholeRange(min=1),
    metavar="L",
    help=f"Stop after L patterns.  [default: the best {USUAL_BEST}, or all]",
)
@click.option(
    "--words",
    type=click.Path(exists=True, dir_okay=False, allow_dash=True),
    metavar="FILE",
    help="The words in a text that can be juggled; - reads standard input.",
)
@json_option
def find_command(**options: Any) -> None:  # noqa: ANN401 - `FindRequest` names every one of them
    """Find patterns: so many objects, so high, so long.

    OBJECTS alone finds the 20 patterns most worth rehearsing among those of 1 to 5 beats. They
    are ranked: busy patterns before those that hold and wait, whole ones before those strung
    together from shorter ones, varied throws, and a short way in. It is a rule of thumb.

    With --show all, patterns are listed as they are found, shorter ones first, and of these those
    with lower throws mostly first; Ctrl-C keeps what was found. Of all rotations of a pattern one
    is listed, the one that is easiest to get into: it begins in the state nearest to the ground
    state, and of several such with the largest throws first. A pattern that repeats within itself
    is listed only under its true period.
    """
    asked = FindRequest(**options)
    asked.check()
    if asked.words is not None:
        with click.open_file(asked.words, encoding="utf-8", errors="replace") as text:
            _find_words(text, asked)
        return
    query = asked.query()
    if asked.shown == "best":
        _find_best(query, asked)
    elif asked.shown == "count":
        _count(query, asked)
    else:
        _list(query, asked)


def _list(query: PatternQuery, asked: FindRequest) -> None:
    if asked.limit is None and is_endless(query):
        PlainError(endless_told(query)).show()
    with search_bar("searching") as watch:
        texts = islice(search_texts(query, watch), asked.limit)
        if asked.as_json:
            write_json(texts)
            return
        found = write_lines(texts)
    if not found:
        PlainError(none_told(query)).show()


def _count(query: PatternQuery, asked: FindRequest) -> None:
    known = count(query)
    if known is not None:
        write_count(known if asked.limit is None else min(known, asked.limit), asked.as_json)
        return
    if asked.limit is None:
        _refuse_endless(query, asked)
    with search_bar("counting") as watch:
        count_up(islice(search_texts(query, watch), asked.limit), asked.as_json)


def _find_best(query: PatternQuery, asked: FindRequest) -> None:
    _refuse_endless(query, asked)
    size = asked.limit or USUAL_BEST
    ranking = Ranking(size, query.hands.highest, every_start=query.every_start)
    stopped = False
    with search_bar("ranking") as watch:
        try:
            for pattern in search(query, watch):
                ranking.add(pattern)
        except KeyboardInterrupt:
            stopped = True
    ranked = ranking.ranked()
    if asked.as_json:
        show_json(ranked_document(ranked))
    elif ranked:
        show(*best_page(ranked, terminal_size().columns))
    else:
        PlainError(none_told(query)).show()
    if stopped:
        raise KeyboardInterrupt


def _find_words(text: Iterable[str], asked: FindRequest) -> None:
    patterns = islice(filter(asked.takes, jugglable_words(text)), asked.limit)
    texts = (pattern.text for pattern in patterns)
    if asked.shown == "count":
        count_up(texts, asked.as_json)
    elif asked.as_json:
        write_json(texts)
    elif not write_lines(texts):
        PlainError(NO_WORD).show()


def _refuse_endless(query: PatternQuery, asked: FindRequest) -> None:
    if is_endless(query):
        with wrong_input_told("", asked.as_json):
            raise EngineError(endless_told(query))
