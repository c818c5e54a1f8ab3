"""`throwcount outputs`: the devices that can play sound, and how soon they can."""

from dataclasses import asdict
from functools import partial
from typing import TYPE_CHECKING, Final

import click

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.options.arguments import json_option, option
from throwcount.caller.terminal.printing import show, show_json, suggesting_render, table, tell
from throwcount.caller.terminal.text import OutsideError
from throwcount.sounds.errors import DeviceError
from throwcount.sounds.output.devices import Device, listed

if TYPE_CHECKING:
    from throwcount.sounds.output.trial import Trial

NUMBERS: Final = ("channels", "sample rate")
NO_OUTPUT: Final = (
    "No sound output was found on this computer; `throwcount render` writes what would be "
    "heard to a file."
)

EPILOG: Final = """\
\b
Examples:
  throwcount outputs
  throwcount outputs --try
  throwcount outputs --try "Built-in"
  throwcount play 531 --output "Built-in"
"""


@click.command("outputs", epilog=EPILOG, context_settings=HELP_OPTIONS)
@option(
    "--try [DEVICE]",
    str,
    "Play on a device, or on the usual one, for half a minute, and tell the lowest --latency at "
    "which nothing is lost.",
    name="tried",
    is_flag=False,
    flag_value="",
)
@json_option
def outputs_command(tried: str | None, as_json: bool) -> None:
    """List the sound outputs of this computer.

    The option --output takes any part of a name that no other output has.
    """
    if tried is not None:
        _try(tried or None, as_json=as_json)
        return
    found: list[Device] = []
    try:
        found = listed("output")
        failure = None if found else NO_OUTPUT
    except DeviceError as error:
        failure = str(error)
    if as_json:
        documents = [
            {
                "name": output.name,
                "through": output.host,
                "channels": output.channels,
                "rate": output.rate,
                "default": output.is_default,
            }
            for output in found
        ]
        show_json({"outputs": documents, "message": failure})
        raise click.exceptions.Exit(OutsideError.exit_code if failure else 0)
    if failure:
        raise OutsideError(failure)
    listing = table("output", "through", "channels", "sample rate", numbers=NUMBERS)
    for output in found:
        name = f"{output.name} (default)" if output.is_default else output.name
        listing.add_row(name, output.host, str(output.channels), str(output.rate))
    show(listing)


BEFOREHAND: Final = (
    "This plays soft clicks for half a minute. Use the computer meanwhile as you do in practice."
)
NEVER: Final = (
    "Beats were lost at every latency: close other programs, or try another device; --latency goes "
    "up to 0.2."
)
BARE_TOO: Final = (
    "Below it, a player that does nothing but play silence loses sound too: the device or the "
    "computer is too slow, whatever plays."
)
HELD_UP: Final = (
    "The computer was held up meanwhile, as a player that does nothing lost sound too: try again."
)
TRIED: Final = ("latency", "gaps", "gaps of a bare player")


def _try(device: str | None, *, as_json: bool) -> None:
    """Tell at which latency a device keeps every beat."""
    from throwcount.sounds.output.player import LivePlayer
    from throwcount.sounds.output.trial import lowest_without_gaps, trials

    if not as_json:
        tell(BEFOREHAND)
    with suggesting_render():
        opened = partial(LivePlayer, device, None)
        found = list(trials(lambda latency, bare: opened(latency, bare=bare)))
    lowest = lowest_without_gaps(found)
    sentences = _verdict(found, lowest)
    if as_json:
        show_json(
            {
                "device": device,
                "trials": [asdict(trial) for trial in found],
                "lowest": lowest,
                "message": " ".join(sentences),
            }
        )
        return
    shown = table(*TRIED, numbers=TRIED)
    for trial in found:
        shown.add_row(f"{trial.latency:g} s", str(trial.gaps), str(trial.bare_gaps))
    show(shown)
    tell("", *sentences)


def _verdict(found: "list[Trial]", lowest: float | None) -> list[str]:
    """Return what the trials come to, in sentences."""
    below = [trial for trial in found if lowest is None or trial.latency < lowest]
    sentences = [
        NEVER
        if lowest is None
        else f"Every beat is kept at a latency of {lowest:g} s: --latency {lowest:g}."
    ]
    if lowest is None and any(trial.bare_gaps for trial in found):
        sentences.append(HELD_UP)
    elif any(trial.bare_gaps for trial in below):
        sentences.append(BARE_TOO)
    return sentences
