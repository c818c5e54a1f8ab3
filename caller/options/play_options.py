"""The options that `play`, `render` and `listen` share, and those of playing live."""

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
    FiniteRange,
    WholeRange,
    ceiling_option,
    dwell_option,
    first_option,
    flag,
    hands_option,
    in_order,
    language_tag,
    object_names,
    option,
    own_phrases,
    own_words,
)
from throwcount.caller.options.request import DEFAULT_EVERY, DEFAULT_STEP, STEPS
from throwcount.caller.terminal.controls import Control, KeysError, key_map
from throwcount.engine.timing.run import LETTER_WORDS, SAY_MODES
from throwcount.engine.timing.tempo import EXPONENTS, FASTEST_TEMPO, SLOWEST_TEMPO

CURVES: Final = (*EXPONENTS, STEPS)

SMALLEST_STEP: Final = 0.01
"""Beats a minute: from the slowest tempo to the fastest in some hundred thousand steps."""

LONGEST_RUN: Final = 86_400.0
"""Seconds: a day."""

PERCENTS: Final = (10.0, 300.0)
TEMPO: Final = FiniteRange(SLOWEST_TEMPO, FASTEST_TEMPO)
LEVEL: Final = FiniteRange(*LEVELS)

shared_options = in_order(
    option(
        "--tempo BPM",
        TEMPO,
        "Set the tempo of the first throw.  [default: suits the highest throw]",
    ),
    option("--to BPM", TEMPO, "Change the tempo to this one."),
    option(
        "--curve", click.Choice(CURVES), "Choose how the tempo changes.  [default: linear-beats]"
    ),
    option(
        "--step BPM",
        FiniteRange(SMALLEST_STEP),
        f"Change by this much at each step, with --curve steps.  [default: {DEFAULT_STEP:g}]",
    ),
    option(
        "--every CYCLES",
        WholeRange(1),
        f"Take a step after this many cycles, with --curve steps.  [default: {DEFAULT_EVERY}]",
    ),
    option("--cycles N", WholeRange(1), "Repeat the pattern N times."),
    option("--beats N", WholeRange(1), "Throw for N beats."),
    option("--seconds S", FiniteRange(0, LONGEST_RUN, min_open=True), "Throw for S seconds."),
    option(
        "--say",
        click.Choice(SAY_MODES),
        "Choose what is called on the beats; nothing silences the throws only.",
        default="values",
    ),
    option(
        "--letters",
        click.Choice(LETTER_WORDS),
        "Call values from 10 up by their letter: plain, as for --letters alone, or spelled: bravo.",
        is_flag=False,
        flag_value="plain",
    ),
    option(
        "--word THROW=WORD",
        str,
        "Call a throw by your own word, as in 2=hold or 4x=over; may be repeated.",
        multiple=True,
        callback=own_words,
    ),
    option(
        "--names NAME,NAME",
        str,
        "Name objects A, B, C ..., as in corn,plum,slate, for --say objects.",
        default="",
        show_default=False,
        callback=object_names,
    ),
    option(
        "--lead BEATS",
        WholeRange(*LEADS),
        'Call each throw this many beats before it; "stop" stays on the last one.',
        default=0,
    ),
    option(
        "--fade CYCLES",
        WholeRange(*FADES),
        "Let the count drop out for a cycle, then two, up to this many, and come back.",
        default=0,
    ),
    option(
        "--fade-clicks CYCLES",
        WholeRange(*FADES),
        "Let the clicks drop out in the same way.",
        default=0,
    ),
    option(
        "--from PART", str, "Begin a routine with this part: its number or its name.", name="begin"
    ),
    option("--until PART", str, "End a routine with this part: its number or its name."),
    option(
        "--percent P",
        FiniteRange(*PERCENTS),
        "Throw a routine at P percent of its tempo, as in 80.",
    ),
    flag("--cues/--no-cues", "Say the changes and manners of a routine, or not.", default=True),
    flag(
        "--milestones/--no-milestones",
        'Call "flash" and "qualified", or not.  [default: with --say tally]',
        default=None,
    ),
    flag(
        "--stop-word/--no-stop-word",
        'Call "stop" on the last throw, and "last one" before it in sets, or not.',
        default=True,
    ),
    first_option,
    option(
        "--ready SECONDS",
        FiniteRange(*READY_SECONDS),
        "Leave time to fill the hands.  [default: 8 when live, 1 in a file]",
    ),
    option(
        "--count-in BEATS",
        WholeRange(*COUNT_INS),
        "Count this many beats before the first throw.",
        default=4,
    ),
    flag(
        "--announce/--no-announce",
        "Say the pattern, the tempo and the first hand before the count-in, or not.",
        default=True,
    ),
    option(
        "--clicks",
        click.Choice(get_args(ClickChoice)),
        "Choose which throws click.",
        default="both",
    ),
    flag(
        "--tune/--no-tune",
        "Let the pitch of the click follow the throw's value, or not.",
        default=True,
    ),
    option("--voice-level DB", LEVEL, "Make the voice louder or softer.", default=0),
    option("--click-level DB", LEVEL, "Make the clicks louder or softer.", default=0),
    option(
        "--voice NAME|FOLDER",
        str,
        "Choose a voice: see `throwcount voices`, or name a folder of recorded words.",
    ),
    flag(
        "--hall/--no-hall",
        "Make voice and clicks ready for a loud room: brighter words, clicks out of their way.",
        default=False,
    ),
    option(
        "--language CODE",
        str,
        "Call in another language, such as de or pt-br, with a system voice that speaks it.",
        callback=language_tag,
    ),
    option(
        "--phrase NAME=WORDS",
        str,
        'Use your own words for what else is said, as in rest="take a break"; may be repeated.',
        multiple=True,
        callback=own_phrases,
    ),
    option(
        "--rate HZ",
        WholeRange(*RATES),
        "Set the sample rate.  [default: 48000, or the device's own when live]",
    ),
    ceiling_option,
    hands_option,
    dwell_option,
)
"""Those of `play`, `render`, `plan` and `listen`."""


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


output_option = option("--output DEVICE", str, "Choose where to play: see `throwcount outputs`.")
speaker_delay_option = option(
    "--speaker-delay MS",
    FiniteRange(*SPEAKER_DELAYS),
    "Let screen and taps wait this long for wireless headphones.",
    default=0,
)
live_options = in_order(
    option(
        "--key CONTROL=KEY",
        str,
        "Choose a key or pedal of your own, as in clean=page-down; may be repeated.",
        multiple=True,
        callback=keys_from,
    ),
    flag(
        "--one-pedal",
        "Do everything with one pedal: a press is a drop, or goes on in a rest; two presses are "
        "clean.",
    ),
    option(
        "--latency SECONDS",
        FiniteRange(*LATENCIES),
        "Keep this much sound ready; more is safer on a busy computer.",
        default=0.05,
    ),
    speaker_delay_option,
    output_option,
)
"""Those of playing live."""
