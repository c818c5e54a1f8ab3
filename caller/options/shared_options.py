"""The options that `play` and `render` share."""

import re
from collections.abc import Sequence
from typing import Final, Literal, TypeAlias, get_args

import click

from caller.console.near import near
from caller.options.arguments import (
    Decorated,
    FiniteRange,
    WholeRange,
    first_option,
    with_options,
)
from engine.calling.stock_phrases import NUMBER, SLOT, STOCK_PHRASES
from engine.patterns.pattern import VALUE_DIGITS
from engine.timing.run import SAY_MODES
from engine.timing.tempo import EXPONENTS, FASTEST_TEMPO, SLOWEST_TEMPO

STEPS: Final = "steps"
CURVES: Final = (*EXPONENTS, STEPS)
ClickChoice: TypeAlias = Literal["both", "right", "left", "cycle", "none"]
DEFAULT_STEP: Final = 5.0
DEFAULT_EVERY: Final = 4
SMALLEST_STEP: Final = 0.01
"""Beats a minute: from the slowest tempo to the fastest in some hundred thousand steps."""

RATES: Final = (8_000, 192_000)
LEVELS: Final = (-60.0, 12.0)
READY_SECONDS: Final = (0.0, 3600.0)
COUNT_INS: Final = (0, 64)
PERCENTS: Final = (10.0, 300.0)
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


TEMPO: Final = FiniteRange(SLOWEST_TEMPO, FASTEST_TEMPO)
LEVEL: Final = FiniteRange(*LEVELS)

SHARED: Final = (
    click.option("--tempo", type=TEMPO, metavar="BPM", help="Beats a minute at the first throw."),
    click.option("--to", type=TEMPO, metavar="BPM", help="Change the tempo to this one."),
    click.option(
        "--curve",
        type=click.Choice(CURVES),
        help="How the tempo gets there.  [default: linear-beats]",
    ),
    click.option(
        "--step",
        type=FiniteRange(SMALLEST_STEP),
        metavar="BPM",
        help=f"Beats a minute a step, with --curve steps.  [default: {DEFAULT_STEP:g}]",
    ),
    click.option(
        "--every",
        type=WholeRange(1),
        metavar="CYCLES",
        help=f"Cycles a step, with --curve steps.  [default: {DEFAULT_EVERY}]",
    ),
    click.option("--cycles", type=WholeRange(1), metavar="N", help="Repeat the pattern N times."),
    click.option("--beats", type=WholeRange(1), metavar="N", help="Throw for N beats."),
    click.option(
        "--seconds",
        type=FiniteRange(0, 86_400, min_open=True),
        metavar="S",
        help="Throw for S seconds.",
    ),
    click.option(
        "--say",
        type=click.Choice(SAY_MODES),
        default="values",
        show_default=True,
        help="What is called on the beats.",
    ),
    click.option("--letters", is_flag=True, help="Call values from 10 up by their letter."),
    click.option(
        "--word",
        multiple=True,
        callback=own_words,
        metavar="VALUE=WORD",
        help="Your own word for a value, as in 2=hold; may be repeated.",
    ),
    click.option(
        "--names",
        default="",
        callback=object_names,
        metavar="NAME,NAME",
        help="Your own names for objects A, B, C ..., with --say objects.",
    ),
    click.option(
        "--lead",
        type=WholeRange(*LEADS),
        default=0,
        metavar="BEATS",
        help='Call each throw so many beats before it; "stop" stays on the last one.',
    ),
    click.option(
        "--fade",
        type=WholeRange(*FADES),
        default=0,
        metavar="CYCLES",
        help="Let the count drop out for a cycle, then two, up to so many, and come back.",
    ),
    click.option(
        "--fade-clicks",
        type=WholeRange(*FADES),
        default=0,
        metavar="CYCLES",
        help="Let the clicks drop out in the same way.",
    ),
    click.option(
        "--from",
        "begin",
        metavar="PART",
        help="Begin a routine with this part: its number or its name.",
    ),
    click.option(
        "--percent",
        type=FiniteRange(*PERCENTS),
        metavar="P",
        help="Throw a routine at so many percent of its tempo.",
    ),
    click.option(
        "--cues/--no-cues",
        default=True,
        help="Say what comes before it comes, in a routine, or not.",
    ),
    first_option,
    click.option(
        "--ready",
        type=FiniteRange(*READY_SECONDS),
        metavar="SECONDS",
        help="Time to fill the hands.  [default: 8 when live, 1 in a file]",
    ),
    click.option(
        "--count-in",
        type=WholeRange(*COUNT_INS),
        metavar="BEATS",
        default=4,
        show_default=True,
        help="Beats counted before the first throw.",
    ),
    click.option(
        "--announce/--no-announce",
        default=True,
        help="Say the pattern, the tempo and the first hand before the count-in, or not.",
    ),
    click.option(
        "--clicks",
        type=click.Choice(get_args(ClickChoice)),
        default="both",
        show_default=True,
        help="Which throws click.",
    ),
    click.option(
        "--tune/--no-tune",
        default=True,
        help="Let the pitch of the click follow the throw's value, or not.",
    ),
    click.option(
        "--voice-level", type=LEVEL, default=0.0, metavar="DB", help="Louder or softer voice."
    ),
    click.option(
        "--click-level", type=LEVEL, default=0.0, metavar="DB", help="Louder or softer clicks."
    ),
    click.option(
        "--voice",
        metavar="NAME|FOLDER",
        help="Whose voice: see `throwcount voices`, or a folder of recorded words.",
    ),
    click.option(
        "--language",
        callback=language_tag,
        metavar="CODE",
        help="Call in another language, such as de or pt-br, with a system voice that speaks it.",
    ),
    click.option(
        "--phrase",
        multiple=True,
        callback=own_phrases,
        metavar="NAME=WORDS",
        help='Your own words for what else is said, as in rest="take a break"; may be repeated.',
    ),
    click.option(
        "--rate",
        type=WholeRange(*RATES),
        metavar="HZ",
        help="Frames a second.  [default: 48000, or the device's own when live]",
    ),
)


def shared_options(command: Decorated) -> Decorated:
    """Add the options that `play` and `render` share to a command."""
    return with_options(SHARED, command)
