"""The options of playing live: the keys, and how sound gets to the ear."""

from collections.abc import Sequence
from typing import Final

import click

from caller.options.arguments import Decorated, FiniteRange, with_options
from caller.playing.controls import Control, KeysError, key_map

LATENCIES: Final = (0.01, 0.2)
"""Seconds."""

SPEAKER_DELAYS: Final = (0.0, 2000.0)
"""Milliseconds."""


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
