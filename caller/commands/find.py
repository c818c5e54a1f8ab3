"""`throwcount find`: patterns by number of objects, height and length.

It reads beats, filters and throw values, ranks patterns or lists all of them, and says why nothing
was found or why there are too many.
"""

import re
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from typing import Any, Final, Literal, TypeAlias, get_args

import click
from click.shell_completion import CompletionItem
from rich.console import RenderableType
from rich.text import Text

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.commands.shared import (
    count_up,
    too_low,
    write_count,
    write_json,
    write_lines,
)
from throwcount.caller.options.arguments import (
    PatternCommand,
    WholeRange,
    flag,
    from_one_hand_option,
    json_option,
    objects_argument,
    option,
    together_option,
)
from throwcount.caller.terminal.printing import (
    in_words,
    search_bar,
    shortened,
    show,
    show_json,
    table,
)
from throwcount.caller.terminal.text import PlainError, near, terminal_size
from throwcount.engine.errors import EngineError
from throwcount.engine.patterns.pattern import HIGHEST_VALUE, VALUE_DIGITS, Pattern
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.states import true_period
from throwcount.engine.search.find import (
    FILTERS,
    Filter,
    PatternQuery,
    count,
    find_lines,
    fits,
    jugglable_words,
    magnitude,
    rising,
)
from throwcount.engine.search.ranking import Ranking, Worth

Show: TypeAlias = Literal["best", "all", "count"]

USUAL_BEATS: Final = (1, 2, 3, 4, 5)
USUAL_HEIGHT: Final = 4
"""How far the highest throw is above the number of objects."""

USUAL_BEST: Final = 20
MOST_RANKED: Final = 1000
"""How many patterns are listed as the best, and how many may be."""

MOST_COMPARED: Final = 5_000
"""How many patterns are compared to find the best: some seconds' work."""

LONGEST_PERIOD: Final = 200
RANGE: Final = re.compile(r"([0-9]{1,9})(?:-([0-9]{1,9}))?")
NUMBER: Final = re.compile(r"[0-9]{2}")


def beats(text: str | tuple[int, ...]) -> tuple[int, ...]:
    """Return the periods in a text such as ``3``, ``3-6`` or ``3,5,7-9``, in rising order."""
    if not isinstance(text, str):
        return text  # click asks again with what it was given
    found: set[int] = set()
    for part in text.split(","):
        match = RANGE.fullmatch(part.strip())
        if match is None:
            raise click.BadParameter(
                f"{text!r} is not a number of beats, such as 4, or a list of them, such as 3-6 or "
                "3,5,8."
            )
        first, last = int(match[1]), int(match[2] or match[1])
        if not 1 <= first <= last <= LONGEST_PERIOD:
            raise click.BadParameter(
                f"{text!r}: patterns have 1 to {LONGEST_PERIOD} beats, and a range goes from the "
                "shorter to the longer one."
            )
        found.update(range(first, last + 1))
    return tuple(sorted(found))


def filters(text: str | Collection[Filter]) -> frozenset[Filter]:
    """Return the filters in a text such as ``prime,ground``."""
    if not isinstance(text, str):
        return frozenset(text)  # click asks again with what it was given
    names = {name.strip() for name in text.split(",")}
    for name in sorted(names.difference(FILTERS)):
        raise click.BadParameter(
            f"{name!r} is not a filter: these are {in_words(FILTERS)}.{near(name, FILTERS)}"
        )
    if names >= {"symmetric", "one-sided"}:
        raise click.BadParameter("no pattern is both symmetric and one-sided; keep one of them.")
    return frozenset(name for name in FILTERS if name in names)


def complete_filters(
    _ctx: click.Context, _param: click.Parameter, incomplete: str
) -> list[CompletionItem]:
    """Return, for the shell, what may come after the last comma."""
    before, comma, begun = incomplete.rpartition(",")
    return [
        CompletionItem(f"{before}{comma}{name}")
        for name in FILTERS
        if name.startswith(begun) and name not in before.split(",")
    ]


def throw_value(text: str | int) -> int:
    """Return the throw value of a digit, a letter or a number with two digits."""
    if isinstance(text, int):
        return text  # click asks again with what it was given
    if len(text) == 1 and text.isascii() and text.lower() in VALUE_DIGITS:
        return VALUE_DIGITS.index(text.lower())
    if NUMBER.fullmatch(text) and int(text) <= HIGHEST_VALUE:
        return int(text)
    raise click.BadParameter(
        f"{text!r} is not a throw value: these are 0 to 9, and a to z for 10 to {HIGHEST_VALUE}."
    )


@dataclass(frozen=True, slots=True)
class FindRequest:
    """The options of `find` by their names; None leaves the choice to `find`."""

    objects: int | None
    highest: int | None
    beats: tuple[int, ...] | None
    only: frozenset[Filter]
    having: tuple[int, ...]
    lacking: tuple[int, ...]
    together: bool
    from_one_hand: int | None
    every_start: bool
    show: Show | None
    limit: int | None
    words: str | None
    as_json: bool

    @property
    def shown(self) -> Show:
        """What to show; unless asked for, all of the words and the best of the patterns."""
        return self.show or ("all" if self.words is not None else "best")

    def query(self) -> PatternQuery:
        """Return what to search for; raise `click.UsageError` without a number of objects."""
        if self.objects is None:
            raise click.UsageError(
                "How many objects? `throwcount find 4` finds patterns with four of them; --words "
                "FILE looks for words."
            )
        highest = self.highest or min(self.objects + USUAL_HEIGHT, HIGHEST_VALUE)
        return PatternQuery(
            self.objects,
            HandLimits(
                "sync" if self.together else "async",
                highest,
                self.from_one_hand or 1,
                frozenset(self.lacking),
            ),
            self.beats or USUAL_BEATS,
            every_start=self.every_start,
            only=self.only,
            containing=frozenset(self.having),
        )

    def check(self) -> None:
        """Raise `click.UsageError` if the options do not go together."""
        if self.shown == "best" and self.limit is not None and self.limit > MOST_RANKED:
            raise click.UsageError(
                f"--limit {self.limit} is too many to rank: the best are at most {MOST_RANKED:,}, "
                "and --show all lists any number."
            )
        restricted = self.together or self.from_one_hand or self.every_start or self.show == "best"
        if self.words is not None and restricted:
            raise click.UsageError(
                "--words takes words as they stand, without --together, --from-one-hand, "
                "--every-start or --show best."
            )

    def takes(self, pattern: Pattern) -> bool:
        """Return whether a word is one of those asked for."""
        values = {throw.value for _, throw in pattern.throws()}
        return (
            self.objects in {None, pattern.objects}
            and (self.highest is None or pattern.highest <= self.highest)
            and (self.beats is None or true_period(pattern) in self.beats)
            and values.issuperset(self.having)
            and values.isdisjoint(self.lacking)
            and fits(pattern, self.only)
        )


ENDLESS: Final = 9.0
"""Decimal logarithm of how many patterns take about a working day to go through."""

NARROW: Final = 60
"""Columns of a terminal with little room."""

SHARES: Final = ("worth", "busy", "whole", "crossing", "varied", "near")
COLUMNS: Final = ("difficulty", "told", "busy", "whole", "worth")
CAPTION: Final = (
    "difficulty: what hands must do at the usual tempo; a plain pattern has its number of objects. "
    "told: how many things tell the pattern, such as a row of equal throws. busy: turns on which a "
    "hand throws; one that is ever empty counts against it. whole: states that differ, so that it "
    "does not just string shorter patterns together. worth: all of these in one, 1 for a plain "
    "pattern. A rule of thumb from common practice, not measured on jugglers."
)
STANDARD_INPUT: Final = "-"
NO_WORD: Final = "No word of this text can be juggled as asked."
NOT_ALL_COMPARED: Final = (
    f"These are the best of the {MOST_COMPARED:,} patterns with the lowest throws; there are more. "
    "Fewer --beats or a lower --highest leaves fewer to compare."
)
NOT_ALL: Final = "No pattern fits all of these conditions."


def first_lines(blocks: Iterable[str], limit: int | None) -> Iterator[str]:
    """Yield blocks of lines up to so many lines; None sets no limit."""
    if limit is None:
        yield from blocks
        return
    for block in blocks:
        lines = block.split("\n", limit)[:limit]
        yield "\n".join(lines)
        limit -= len(lines)
        if not limit:
            return


def is_endless(query: PatternQuery) -> bool:
    """Return whether nobody would wait until the search has gone through all these patterns."""
    return magnitude(query) > ENDLESS


def endless_sentence(query: PatternQuery) -> str:
    """Return the sentence about a search that will not end."""
    return (
        f"There are about 10^{magnitude(query):.0f} such patterns, too many to wait for: "
        "fewer --beats or a lower --highest leaves fewer, and --show all --limit L lists the first "
        "L."
    )


def why_none(query: PatternQuery) -> str:
    """Return why there is no pattern to list."""
    hands = query.hands
    highest = hands.farthest * hands.places
    if sentence := too_low(hands, query.objects):
        return sentence
    if hands.kind == "sync" and all(period % 2 for period in query.periods):
        return "Hands that throw together take two beats, so the number of beats is even."
    if query.containing and max(query.containing) > highest:
        return (
            f"Throws go up to {highest} here, so none is a "
            f"{VALUE_DIGITS[max(query.containing)]}: a higher --highest allows it."
        )
    return NOT_ALL


def ranked_document(ranked: list[tuple[Pattern, Worth]]) -> dict[str, Any]:
    """Return the best patterns for JSON, with their measures beside them."""
    return {
        "patterns": [pattern.text for pattern, _ in ranked],
        "count": len(ranked),
        "ranked": [
            {
                "pattern": pattern.text,
                "difficulty": round(worth.difficulty, 3),
                **{name: round(getattr(worth, name), 4) for name in SHARES},
                "told": worth.told,
                "gaps": worth.gaps,
                "rising": worth.rising,
            }
            for pattern, worth in ranked
        ],
    }


def best_page(ranked: list[tuple[Pattern, Worth]], width: int) -> Iterator[RenderableType]:
    """Yield a table of the best patterns, and a text about their worth.

    `width` is that of the terminal, in columns.
    """
    listing = table("pattern", *COLUMNS, numbers=COLUMNS)
    digits = 4
    if width < NARROW:
        listing.padding, digits = (0, 1, 0, 0), 3
    for pattern, worth in ranked:
        listing.add_row(
            shortened(pattern.text),
            f"{worth.difficulty:.2f}",
            str(worth.told),
            f"{worth.busy:.2f}",
            f"{worth.whole:.2f}",
            f"{worth.worth:.{digits}f}",
        )
    yield listing
    yield Text()
    yield Text(CAPTION, "dim")


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
@option(
    "--highest H", WholeRange(1, HIGHEST_VALUE), "Throw no higher than H.  [default: OBJECTS + 4]"
)
@option(
    "--beats P", beats, "Repeat after P beats: 4, or several as in 3-6 or 3,5,8.  [default: 1-5]"
)
@option(
    "--only F,F",
    filters,
    "Find only patterns that are all of these, with commas between: prime (no state comes twice), "
    "ground (it passes the ground state), symmetric (both hands do the same in the end), one-sided "
    "(each hand keeps throws of its own).",
    default=(),
    shell_complete=complete_filters,
)
@option(
    "--having V",
    throw_value,
    "Find only patterns with this throw value, such as 7; may be repeated.",
    multiple=True,
)
@option(
    "--lacking V",
    throw_value,
    "Find only patterns without this throw value, such as 2; may be repeated.",
    multiple=True,
)
@together_option
@from_one_hand_option
@flag("--every-start", "Take each rotation for a pattern of its own.")
@option(
    "--show",
    click.Choice(get_args(Show)),
    "Show the best, with what speaks for them; all, as they are found; or how many there are.  "
    "[default: best, of words all]",
)
@option(
    "--limit L",
    WholeRange(min=1),
    f"Stop after L patterns.  [default: the best {USUAL_BEST}, or all]",
)
@option(
    "--words FILE",
    click.Path(exists=True, dir_okay=False, allow_dash=True),
    "Find the words in a text that can be juggled; - reads standard input.",
)
@json_option
def find_command(**options: Any) -> None:  # noqa: ANN401 - `FindRequest` names every one of them
    """Find patterns by number of objects, height and length.

    OBJECTS alone finds the 20 patterns most worth rehearsing among those of 1 to 5 beats. The
    ranking puts first what a coach would name first: what is easy for the hands, is told in few
    words, keeps the hands busy, and is not just strung together from shorter patterns. Of very
    many patterns only those with the lowest throws are compared.

    --show all lists patterns as they are found: shorter ones first, and of the same length, where
    they are few, those that pass the ground state before others. Ctrl-C keeps what was found. Of
    all rotations of a pattern, the one that is easiest to get into is listed: it begins in the
    state nearest to the ground state, and among several such it has the largest throws first. A
    pattern that repeats within itself is listed only under its true period.
    """
    asked = FindRequest(**options)
    asked.check()
    if asked.words is not None:
        with _text(asked.words) as text:
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
        PlainError(endless_sentence(query)).show()
    with search_bar("searching") as watch:
        blocks = first_lines(find_lines(query, watch), asked.limit)
        if asked.as_json:
            write_json(lines.split("\n") for lines in blocks)
            return
        found = write_lines(blocks)
    if not found:
        PlainError(why_none(query)).show()


def _count(query: PatternQuery, asked: FindRequest) -> None:
    known = count(query)
    if known is not None:
        write_count(known if asked.limit is None else min(known, asked.limit), asked.as_json)
        return
    if asked.limit is None:
        _refuse_endless(query)
    with search_bar("counting") as watch:
        count_up(first_lines(find_lines(query, watch), asked.limit), asked.as_json)


def _find_best(query: PatternQuery, asked: FindRequest) -> None:
    _refuse_endless(query)
    size = asked.limit or USUAL_BEST
    ranking = Ranking(size, query.hands.highest, every_start=query.every_start)
    compared, stopped = 0, False
    with search_bar("ranking") as watch:
        try:
            for pattern in islice(rising(query, watch), MOST_COMPARED + 1):
                compared += 1
                if compared <= MOST_COMPARED:
                    ranking.add(pattern)
        except KeyboardInterrupt:
            stopped = True
    ranked = ranking.ranked()
    if compared > MOST_COMPARED:
        PlainError(NOT_ALL_COMPARED).show()
    if asked.as_json:
        show_json(ranked_document(ranked))
    elif ranked:
        show(*best_page(ranked, terminal_size().columns))
    else:
        PlainError(why_none(query)).show()
    if stopped:
        raise KeyboardInterrupt


@contextmanager
def _text(named: str) -> Iterator[Iterable[str]]:
    """Open the text in a file, or standard input if it is called ``-``."""
    from io import TextIOWrapper
    from pathlib import Path

    from throwcount.sounds.errors import InputError
    from throwcount.sounds.files.whole_files import open_input

    if named == STANDARD_INPUT:
        with click.open_file(named, encoding="utf-8", errors="replace") as text:
            yield text
        return
    try:
        with open_input(Path(named)) as file:
            yield TextIOWrapper(file, encoding="utf-8", errors="replace")
    except InputError as error:
        raise click.UsageError(f"--words {named} cannot be read. {error}") from error


def _find_words(text: Iterable[str], asked: FindRequest) -> None:
    patterns = islice(filter(asked.takes, jugglable_words(text)), asked.limit)
    texts = (pattern.text for pattern in patterns)
    if asked.shown == "count":
        count_up(texts, asked.as_json)
    elif asked.as_json:
        write_json([text] for text in texts)
    elif not write_lines(texts):
        PlainError(NO_WORD).show()


def _refuse_endless(query: PatternQuery) -> None:
    if is_endless(query):
        raise EngineError(endless_sentence(query))
