"""`throwcount find`: the patterns of so many objects, so high and so long."""

from collections.abc import Iterable
from itertools import islice
from typing import Any, Final

import click

from caller.commands import HELP_OPTIONS
from caller.console.printable import terminal_size
from caller.console.search_bar import search_bar
from caller.console.terminal import show
from caller.errors import PlainError
from caller.options.arguments import WholeRange, json_option, objects_option
from caller.options.find_options import Asked, periods, throw_value
from caller.patterns.find_page import NO_WORD, best_page, endless_told, is_endless, none_told
from caller.patterns.pattern_list import count_up, write_count, write_json, write_lines
from caller.patterns.wrong_pattern import wrong_input_told
from engine.errors import EngineError
from engine.finding.counting import count
from engine.finding.ranking import Ranking
from engine.finding.search import Query, search, search_texts
from engine.finding.words import jugglable_words
from engine.patterns.pattern import HIGHEST_VALUE

MOST_AT_ONCE: Final = 4
MOST_RANKED: Final = 1000

EPILOG: Final = """\
\b
Examples:
  throwcount find --objects 3 --max 5 --period 3
  throwcount find --objects 4 --max 7 --period 3-6 --prime --with 7 --without 2
  throwcount find --objects 5 --max 9 --period 3-7 --best 10
  throwcount find --objects 4 --max 6 --period 4 --sync
  throwcount find --words story.txt
"""


@click.command("find", epilog=EPILOG, context_settings=HELP_OPTIONS)
@objects_option
@click.option(
    "--max",
    "highest",
    type=WholeRange(1, HIGHEST_VALUE),
    metavar="H",
    help="The highest throw.",
)
@click.option(
    "--period",
    type=periods,
    metavar="P",
    help="Beats until it repeats: 4, or several as in 3-6 or 3,5,8.",
)
@click.option(
    "--with",
    "containing",
    type=throw_value,
    multiple=True,
    metavar="V",
    help="Only patterns with this throw value; may be given again.",
)
@click.option(
    "--without",
    type=throw_value,
    multiple=True,
    metavar="V",
    help="Only patterns without this throw value; may be given again.",
)
@click.option("--prime", is_flag=True, help="Only patterns in which no state comes twice.")
@click.option("--ground", is_flag=True, help="Only patterns that pass the ground state.")
@click.option(
    "--symmetric",
    "symmetry",
    flag_value="symmetric",
    help="Only patterns in which both hands do the same in the end (an odd period, or *).",
)
@click.option(
    "--one-sided",
    "symmetry",
    flag_value="one-sided",
    help="Only patterns in which each hand keeps throws of its own.",
)
@click.option("--rotations", is_flag=True, help="Each rotation as a pattern of its own.")
@click.option("--sync", is_flag=True, help="Both hands together, in pairs.")
@click.option(
    "--multiplex",
    "capacity",
    type=WholeRange(1, MOST_AT_ONCE),
    metavar="M",
    help="Up to M objects from one hand at once.",
)
@click.option(
    "--words",
    type=click.Path(exists=True, dir_okay=False, allow_dash=True),
    metavar="FILE",
    help="The words in a text that can be juggled; - reads standard input.",
)
@click.option(
    "--best",
    type=WholeRange(1, MOST_RANKED),
    metavar="K",
    help="The K patterns most worth rehearsing, and why.",
)
@click.option("--limit", type=WholeRange(min=1), metavar="L", help="Stop after L patterns.")
@click.option("--count-only", is_flag=True, help="Only how many there are.")
@json_option
def command(**options: Any) -> None:  # noqa: ANN401 - `Asked` names every one of them
    """Find patterns: so many objects, so high, so long.

    Patterns are listed as they are found, those with lower throws mostly first, and Ctrl-C keeps
    what was found. Of all rotations of a pattern one is listed, the one that is easiest to get
    into: it begins in the state nearest to the ground state, and of several such with the largest
    throws first. A pattern that repeats within itself is listed only under its true period.

    --best ranks: busy patterns before those that hold and wait, whole ones before those strung
    together from shorter ones, varied throws, and a short way in. It is a rule of thumb.
    """
    asked = Asked(**options)
    asked.check()
    if asked.words is not None:
        with click.open_file(asked.words, encoding="utf-8", errors="replace") as text:
            _find_words(text, asked)
        return
    query = asked.query()
    if asked.best is not None:
        _find_best(query, asked, asked.best)
    elif asked.count_only:
        _count(query, asked)
    else:
        _list(query, asked)


def _list(query: Query, asked: Asked) -> None:
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


def _count(query: Query, asked: Asked) -> None:
    known = count(query)
    if known is not None:
        write_count(known if asked.limit is None else min(known, asked.limit), asked.as_json)
        return
    _refuse_endless(query, asked)
    with search_bar("counting") as watch:
        count_up(islice(search_texts(query, watch), asked.limit), asked.as_json)


def _find_best(query: Query, asked: Asked, size: int) -> None:
    _refuse_endless(query, asked)
    ranking = Ranking(size, query.hands.highest)
    stopped = False
    with search_bar("ranking") as watch:
        try:
            for pattern in islice(search(query, watch), asked.limit):
                ranking.add(pattern)
        except KeyboardInterrupt:
            stopped = True
    ranked = ranking.ranked()
    if asked.as_json:
        write_json(pattern.text for pattern, _ in ranked)
    elif ranked:
        show(*best_page(ranked, terminal_size().columns))
    else:
        PlainError(none_told(query)).show()
    if stopped:
        raise KeyboardInterrupt


def _find_words(text: Iterable[str], asked: Asked) -> None:
    patterns = islice(filter(asked.takes, jugglable_words(text)), asked.limit)
    texts = (pattern.text for pattern in patterns)
    if asked.count_only:
        count_up(texts, asked.as_json)
    elif asked.as_json:
        write_json(texts)
    elif not write_lines(texts):
        PlainError(NO_WORD).show()


def _refuse_endless(query: Query, asked: Asked) -> None:
    if asked.limit is None and is_endless(query):
        with wrong_input_told("", asked.as_json):
            raise EngineError(endless_told(query))
