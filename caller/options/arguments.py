"""What several commands share: options, the ranges of their values, and how values are read."""

import math
import os
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias, TypeVar

import click
from click.core import ParameterSource

from throwcount.caller.options.sections import SectionedCommand
from throwcount.caller.terminal.text import AS_JSON, near
from throwcount.engine.patterns.flight import DWELL_RATIO, HANDS_HEIGHT
from throwcount.engine.patterns.pattern import HIGHEST_VALUE, VALUE_DIGITS

if TYPE_CHECKING:
    from pathlib import Path

MOST_FROM_ONE_HAND: Final = 4
"""Objects that one hand throws at once in patterns to be found, at most."""

PATTERN_LIKE: Final = re.compile(r"-[^-a-zA-Z]")
"""A text such as ``-1``: it begins as an option does, but options are named by letters."""


class PatternCommand(SectionedCommand):
    """A command that takes an argument such as ``-1`` for a wrong pattern and not for an option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read patterns that begin with a minus sign after everything else."""
        if "--" in args:
            return super().parse_args(ctx, args)
        options = (param for param in self.params if isinstance(param, click.Option))
        takes_value = {name for each in options if not each.is_flag for name in each.opts}
        others: list[str] = []
        patterns: list[str] = []
        for before, arg in zip(["", *args], args, strict=False):
            is_pattern = PATTERN_LIKE.match(arg) and before not in takes_value
            (patterns if is_pattern else others).append(arg)
        return super().parse_args(ctx, [*others, "--", *patterns] if patterns else args)


Decorated = TypeVar("Decorated", bound=Callable[..., Any])


def option(
    shown: str,
    kind: "click.ParamType[Any] | Callable[[Any], Any]",
    help_text: str,
    *,
    name: str | None = None,
    **attributes: Any,  # noqa: ANN401 - as in click
) -> Callable[[Decorated], Decorated]:
    """Return a click option from what help shows of it, such as ``--to BPM``, and its help text.

    Click passes its value as `name`, or else under the option's own name.
    """
    own, _, value = shown.partition(" ")
    names = (own,) if name is None else (own, name)
    return click.option(*names, type=kind, metavar=value or None, help=help_text, **attributes)


def flag(
    shown: str,
    help_text: str,
    **attributes: Any,  # noqa: ANN401 - as in click
) -> Callable[[Decorated], Decorated]:
    """Return an option without a value; see `option`."""
    return option(shown, bool, help_text, is_flag=True, **attributes)


def in_order(*options: Callable[[Decorated], Decorated]) -> Callable[[Decorated], Decorated]:
    """Return one decorator that adds all of `options`, which help lists in this order."""

    def add(command: Decorated) -> Decorated:
        for each in reversed(options):
            command = each(command)
        return command

    return add


def chosen(given: Mapping[str, Any], into: type) -> dict[str, Any]:
    """Return the arguments of a command for which the dataclass `into` has fields."""
    names = {each.name for each in fields(into)}
    return {name: value for name, value in given.items() if name in names}


def is_typed(ctx: click.Context, name: str) -> bool:
    """Return whether a person gave this option, on the command line or in the environment."""
    return ctx.get_parameter_source(name) in {
        ParameterSource.COMMANDLINE,
        ParameterSource.ENVIRONMENT,
    }


def check_sound(file: "Path") -> None:
    """Raise `click.UsageError` if the ending stands for no sound format."""
    from throwcount.sounds.errors import FileError
    from throwcount.sounds.files.audio_files import file_format

    try:
        file_format(file, 0)
    except FileError as error:
        raise click.UsageError(str(error)) from error


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


class FilePath(click.Path):
    """A path; pathlib, which takes as long to load as a fifth of click, waits for one."""

    def convert(
        self,
        value: "str | os.PathLike[str]",
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> "Path":
        """Return `value` as a path."""
        from pathlib import Path

        return Path(os.fsdecode(super().convert(value, param, ctx)))


FILE: Final = FilePath()
"""The type of an option that names a file."""

first_option = option(
    "--first",
    click.Choice(["right", "left"]),
    "Choose the hand that begins, where the hands alternate.",
    default="right",
)


def _note_json(ctx: click.Context, _param: click.Parameter, asked: bool) -> bool:
    ctx.meta[AS_JSON] = asked
    return asked


json_option = flag(
    "--json", "Print one JSON document and nothing else.", name="as_json", callback=_note_json
)
objects_argument = click.argument("objects", type=WholeRange(1, HIGHEST_VALUE), required=False)
together_option = flag("--together", "Throw with both hands at once, in pairs.")
from_one_hand_option = option(
    "--from-one-hand M",
    WholeRange(1, MOST_FROM_ONE_HAND),
    "Throw up to M objects from one hand at once.  [default: 1]",
)
dwell_option = option(
    "--dwell R",
    FiniteRange(0, 1, min_open=True, max_open=True),
    "Set the share of the time that a hand holds an object.  [default: 2/3]",
    default=DWELL_RATIO,
    show_default=False,
)
ROOM_HEIGHTS: Final = (0.0, 1000.0)
"""Metres above the floor: higher than any hall, and low enough to count with."""

ceiling_option = option(
    "--ceiling M",
    FiniteRange(*ROOM_HEIGHTS),
    "Set the height of the room, in metres, such as 2.6; the default tempo suits it.",
)
hands_option = option(
    "--hands M",
    FiniteRange(*ROOM_HEIGHTS),
    "Set the height of the hands above the floor, in metres.",
    default=HANDS_HEIGHT,
)

LOG_VARIABLE: Final = "THROWCOUNT_LOG"
"""An environment variable that names the practice log; the option wins over it."""


def usual_log() -> "Path":
    """Return the practice log in the user's data folder."""
    from platformdirs import user_data_path  # only where a log is opened

    return user_data_path("throwcount") / "practice.sqlite"


def log_command(log: "Path", task: str, path: "Path") -> str:
    """Return the command, as a shell reads it, that does a task, such as ``repair``, with a file.

    `log` is the practice log, which is named where it is not the usual one.
    """
    import shlex  # only where something is to be copied

    words = ["throwcount", "log", f"--{task}", str(path)]
    return shlex.join(words + ([] if log == usual_log() else ["--log", str(log)]))


log_option = option(
    "--log FILE",
    FilePath(dir_okay=False),
    f"Use this practice log; {LOG_VARIABLE} names it too.  [default: in your data folder]",
    name="log_file",
    envvar=LOG_VARIABLE,
    default=usual_log,
    show_default=False,
)

ClickChoice: TypeAlias = Literal["both", "right", "left", "cycle", "none"]

RATES: Final = (8_000, 192_000)
"""Hz."""

LEVELS: Final = (-60.0, 12.0)
"""dB against the usual level."""

READY_SECONDS: Final = (0.0, 3600.0)
LATENCIES: Final = (0.01, 0.2)
"""Seconds."""

SPEAKER_DELAYS: Final = (0.0, 2000.0)
"""Milliseconds."""

COUNT_INS: Final = (0, 64)
LEADS: Final = (0, 8)
"""Beats."""

FADES: Final = (0, 64)
"""Cycles."""

LONGEST_REST: Final = 3600.0
"""Seconds."""

CLEAN_IN_A_ROW: Final = (1, 10)
"""Clean sets."""

NOT_COUNTED: Final = "nothing"
"""What a set without a mark counts as, where it counts as neither clean nor a drop."""

LANGUAGE: Final = r"[A-Za-z]{2,3}([-_][A-Za-z0-9]{1,8})*"
"""A language tag, such as de or pt-BR (the form of BCP 47, as far as it is of use here)."""


def own_words(ctx: click.Context, param: click.Parameter, given: Sequence[str]) -> dict[str, str]:
    """Return a person's own words by throw, from texts such as ``2=hold`` and ``4x=over``.

    The settings may hold some as well; the command line wins throw by throw.
    """
    words: dict[str, str] = {}
    for text in (*(ctx.lookup_default(param.name or "") or ()), *given):
        pair = own_word(text)
        if pair is None:
            raise click.BadParameter(
                f"{text!r} is not a throw and a word, as in 2=hold or 4x=over."
            )
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
    """Return in a sentence what is wrong with a person's own phrase; empty if nothing is."""
    from throwcount.engine.scheduling.calls import NUMBER, SLOT, STOCK_PHRASES

    if name.lower() not in STOCK_PHRASES:
        names = ", ".join(STOCK_PHRASES)
        return f"{name!r} is not a phrase: the phrases are {names}.{near(name, STOCK_PHRASES)}"
    if not phrase:
        return f"{name!r} has no words of its own."
    if SLOT in name.lower().split("-") and NUMBER not in phrase.split():
        return f"{name!r} holds a number: write {NUMBER} where it is said, as a word of its own."
    return ""


def language_tag(_ctx: click.Context, _param: click.Parameter, given: str | None) -> str | None:
    """Return the tag of a language, if it looks like one."""
    if given is not None and not re.fullmatch(LANGUAGE, given):
        raise click.BadParameter(f"{given!r} is not a language code, such as de, fr or pt-br.")
    return given


def object_names(_ctx: click.Context, _param: click.Parameter, given: str) -> tuple[str, ...]:
    """Return the names of objects from a text such as ``corn,plum``."""
    names = tuple(name.strip() for name in given.split(",")) if given else ()
    if not all(names):
        raise click.BadParameter(f"{given!r} lacks a name beside one of its commas.")
    return names


def own_word(text: str) -> tuple[str, str] | None:
    """Return the throw and the word of a text such as ``4x=over``; None if it is not one."""
    throw, _, word = (part.strip() for part in text.partition("="))
    throw = throw.lower()
    is_throw = throw[:1] in set(VALUE_DIGITS) and throw[1:] in ("", "x")
    return (throw, word) if is_throw and word else None
