"""The options that `play` and `render` share.

The options of playing live: the keys, and how sound gets to the ear.
"""

from collections.abc import Sequence
from typing import Final, get_args

import click

from throwcount.caller.options.arguments import (
    COUNT_INS,
    FADES,
    LATENCIES,
    LEADS,
    LEVELS,
    RATES,
    READY_SECONDS,
    SPEAKER_DELAYS,
    ClickChoice,
    Decorated,
    FiniteRange,
    WholeRange,
    first_option,
    language_tag,
    object_names,
    own_phrases,
    own_words,
    with_options,
)
from throwcount.caller.options.request import DEFAULT_EVERY, DEFAULT_STEP, STEPS
from throwcount.caller.terminal.controls import Control, KeysError, key_map
from throwcount.engine.timing.run import SAY_MODES
from throwcount.engine.timing.tempo import EXPONENTS, FASTEST_TEMPO, SLOWEST_TEMPO

CURVES: Final = (*EXPONENTS, STEPS)
SMALLEST_STEP: Final = 0.01
"""Beats a minute: from the slowest tempo to the fastest in some hundred thousand steps."""
PERCENTS: Final = (10.0, 300.0)


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
        help="Sample rate.  [default: 48000, or the device's own when live]",
    ),
)


def shared_options(command: Decorated) -> Decorated:
    """Add the options that `play` and `render` share to a command."""
    return with_options(SHARED, command)


def keys_from(
    ctx: click.Context, param: click.Parameter, given: Sequence[str]
) -> dict[str, Control]:
    """Return what each key asks for, from texts such as ``clean=page-down``.

    What the command line says of a control takes the place of what the settings say of it.
    """
    own = _by_control(ctx.lookup_default(param.name or "") or ())
    own.update(_by_control(given))
    try:
        return key_map(own)
    except KeysError as error:
        raise click.BadParameter(" ".join(error.faults)) from error


def _by_control(texts: Sequence[str]) -> dict[str, list[str]]:
    """Return the keys of each control; none where a text ends with the equals sign."""
    found: dict[str, list[str]] = {}
    for text in texts:
        name, joined, key = text.partition("=")
        if not joined:
            raise click.BadParameter(f"{text!r} is not a control and a key, as in pause=space.")
        found.setdefault(name.strip(), []).extend([key] if key else [])
    return found


OUTPUT: Final = click.option(
    "--output", metavar="DEVICE", help="Where to play: see `throwcount outputs`."
)
SPEAKER_DELAY: Final = click.option(
    "--speaker-delay",
    type=FiniteRange(*SPEAKER_DELAYS),
    default=0.0,
    metavar="MS",
    help="What wireless headphones add, so that screen and taps go by what is heard.",
)
LIVE: Final = (
    click.option(
        "--key",
        "key",
        multiple=True,
        callback=keys_from,
        metavar="CONTROL=KEY",
        help="A key or pedal of your own, as in clean=page-down; may be repeated.",
    ),
    click.option(
        "--latency",
        type=FiniteRange(*LATENCIES),
        default=0.05,
        show_default=True,
        metavar="SECONDS",
        help="Sound kept ready; more is safer on a busy computer.",
    ),
    SPEAKER_DELAY,
    OUTPUT,
)


def live_options(command: Decorated) -> Decorated:
    """Add the options of playing live to a command."""
    return with_options(LIVE, command)
