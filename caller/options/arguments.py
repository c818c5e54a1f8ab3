"""Arguments and options that several commands have, and how patterns are read.

Where the practice log is.
"""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any, Final, Literal, TypeAlias, TypeVar

import click
from click.core import ParameterSource

from throwcount.caller.options.sections import SectionedCommand
from throwcount.caller.terminal.text import near
from throwcount.engine.patterns.flight import DWELL_RATIO
from throwcount.engine.patterns.pattern import HIGHEST_VALUE, VALUE_DIGITS
from throwcount.engine.scheduling.calls import NUMBER, SLOT, STOCK_PHRASES

MOST_AT_ONCE: Final = 4
"""Objects that one hand throws at once, at most, in what is searched for."""

PATTERN_LIKE: Final = re.compile(r"-[^-a-zA-Z]")
"""A text such as ``-1``: it opens as an option does, but options are named by letters."""


class PatternCommand(SectionedCommand):
    """A command whose argument is a pattern or a number, even one that begins with a minus sign.

    Such an argument is wrong, and is to be told so as what it is and not as an option.
    """

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read patterns that begin with a minus sign after everything else."""
        if "--" in args:
            return super().parse_args(ctx, args)
        takes_value = self._options_with_value()
        others: list[str] = []
        patterns: list[str] = []
        for before, arg in zip(["", *args], args, strict=False):
            is_pattern = PATTERN_LIKE.match(arg) and before not in takes_value
            (patterns if is_pattern else others).append(arg)
        return super().parse_args(ctx, [*others, "--", *patterns] if patterns else args)

    def _options_with_value(self) -> set[str]:
        options = (param for param in self.params if isinstance(param, click.Option))
        return {name for option in options if not option.is_flag for name in option.opts}


Decorated = TypeVar("Decorated", bound=Callable[..., Any])


def with_options(
    options: Sequence[Callable[[Decorated], Decorated]], command: Decorated
) -> Decorated:
    """Return `command` with `options`, which its help lists in this order."""
    for option in reversed(options):
        command = option(command)
    return command


def chosen(given: Mapping[str, Any], into: type) -> dict[str, Any]:
    """Return those of click's arguments that the dataclass `into` has fields for."""
    names = {each.name for each in fields(into)}
    return {name: value for name, value in given.items() if name in names}


def is_typed(ctx: click.Context, name: str) -> bool:
    """Return whether a person gave this option themselves, and not a file or a default."""
    return ctx.get_parameter_source(name) in {
        ParameterSource.COMMANDLINE,
        ParameterSource.ENVIRONMENT,
    }


class WholeRange(click.IntRange):
    """A range of whole numbers."""

    name = "whole number"  # as errors have it


class FiniteRange(click.FloatRange):
    """A range of finite numbers: ``nan`` lies in none."""

    name = "number"  # as errors have it

    def convert(
        self,
        value: Any,  # noqa: ANN401 - as in click
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> float:
        """Return `value` as a number."""
        number = float(super().convert(value, param, ctx))
        if not math.isfinite(number):
            self.fail(f"{value} is not a finite number.", param, ctx)
        return number


first_option = click.option(
    "--first",
    type=click.Choice(["right", "left"]),
    default="right",
    show_default=True,
    help="The hand that begins, where the hands alternate.",
)
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON document and nothing else."
)
objects_argument = click.argument("objects", type=WholeRange(1, HIGHEST_VALUE), required=False)
together_option = click.option("--together", is_flag=True, help="Both hands together, in pairs.")
from_one_hand_option = click.option(
    "--from-one-hand",
    type=WholeRange(1, MOST_AT_ONCE),
    metavar="M",
    help="Up to M objects from one hand at once.",
)
dwell_option = click.option(
    "--dwell",
    type=FiniteRange(0, 1, min_open=True, max_open=True),
    metavar="R",
    default=DWELL_RATIO,
    help="The share of the time that a hand holds an object.  [default: 2/3]",
)


LOG_VARIABLE: Final = "THROWCOUNT_LOG"
"""In the environment, it names another file; the option comes first."""


def usual_place() -> Path:
    """Return the file in the user's data folder."""
    from platformdirs import user_data_path  # only where a log is opened

    return user_data_path("throwcount") / "practice.sqlite"


log_option = click.option(
    "--log",
    "log_file",
    type=click.Path(dir_okay=False, path_type=Path),
    envvar=LOG_VARIABLE,
    default=usual_place,
    metavar="FILE",
    help=f"The practice log; {LOG_VARIABLE} names it too.  [default: in your data folder]",
)
"""Gives a command the path as `log_file`."""


ClickChoice: TypeAlias = Literal["both", "right", "left", "cycle", "none"]

RATES: Final = (8_000, 192_000)
LEVELS: Final = (-60.0, 12.0)
READY_SECONDS: Final = (0.0, 3600.0)
COUNT_INS: Final = (0, 64)
LEADS: Final = (0, 8)
FADES: Final = (0, 64)
LANGUAGE: Final = r"[A-Za-z]{2,3}([-_][A-Za-z0-9]{1,8})*"
"""A language tag, such as de or pt-BR (the form of BCP 47, as far as it is of use here)."""


def own_words(ctx: click.Context, param: click.Parameter, given: Sequence[str]) -> dict[int, str]:
    """Return throw values with the juggler's own words for them, from texts such as ``2=hold``.

    The settings may hold some as well; the command line wins value by value.
    """
    words: dict[int, str] = {}
    for text in (*(ctx.lookup_default(param.name or "") or ()), *given):
        pair = own_word(text)
        if pair is None:
            raise click.BadParameter(f"{text!r} is not a throw value and a word, as in 2=hold.")
        words.update([pair])
    return words


def own_phrases(ctx: click.Context, param: click.Parameter, given: Sequence[str]) -> dict[str, str]:
    """Return a person's own phrases by name, from texts such as ``last-one=letzte Runde``.

    The settings may hold some as well; the command line wins phrase by phrase.
    """
    phrases: dict[str, str] = {}
    for text in (*(ctx.lookup_default(param.name or "") or ()), *given):
        name, _, phrase = (part.strip() for part in text.partition("="))
        fault = phrase_fault(name, phrase)
        if fault:
            raise click.BadParameter(fault)
        phrases[name.lower()] = phrase
    return phrases


def phrase_fault(name: str, phrase: str) -> str:
    """Return what is wrong with a phrase of a person's own, in a sentence; empty if nothing is."""
    if name.lower() not in STOCK_PHRASES:
        names = ", ".join(STOCK_PHRASES)
        return f"{name!r} is nothing that is said: that is {names}.{near(name, STOCK_PHRASES)}"
    if not phrase:
        return f"{name!r} has no words of its own."
    if SLOT in name.lower().split("-") and NUMBER not in phrase.split():
        return f"{name!r} holds a number: write {NUMBER} where it is said, as a word of its own."
    return ""


def language_tag(_ctx: click.Context, _param: click.Parameter, given: str | None) -> str | None:
    """Return the tag of a language, if it looks like one."""
    if given is not None and not re.fullmatch(LANGUAGE, given):
        raise click.BadParameter(f"{given!r} is no language code, as de, fr and pt-br are.")
    return given


def object_names(_ctx: click.Context, _param: click.Parameter, given: str) -> tuple[str, ...]:
    """Return the names of objects from a text such as ``corn,plum``."""
    names = tuple(name.strip() for name in given.split(",")) if given else ()
    if not all(names):
        raise click.BadParameter(f"{given!r} lacks a name beside one of its commas.")
    return names


def own_word(text: str) -> tuple[int, str] | None:
    """Return the throw value and the word in a text such as ``2=hold``; None where it is none."""
    digit, _, word = (part.strip() for part in text.partition("="))
    value = VALUE_DIGITS.find(digit.lower()) if len(digit) == 1 else -1
    return (value, word) if value >= 0 and word else None


LATENCIES: Final = (0.01, 0.2)
"""Seconds."""

SPEAKER_DELAYS: Final = (0.0, 2000.0)
"""Milliseconds."""


NOT_COUNTED: Final = "nothing"
LONGEST_REST: Final = 3600.0
CLEAN_IN_A_ROW: Final = (1, 10)
