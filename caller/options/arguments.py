"""Arguments and options that several commands have, and how patterns are read."""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from typing import Any, Final, TypeVar

import click
from click.core import ParameterSource

from caller.options.sections import SectionedCommand
from engine.patterns.flight import DWELL_RATIO
from engine.patterns.pattern import HIGHEST_VALUE

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
