"""`throwcount outputs`: the devices that can play sound."""

from typing import Final

import click

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.options.arguments import json_option
from throwcount.caller.terminal.printing import show, show_json, table
from throwcount.caller.terminal.text import OutsideError
from throwcount.sounds.errors import DeviceError
from throwcount.sounds.output.devices import Device, outputs

NUMBERS: Final = ("channels", "sample rate")
NO_OUTPUT: Final = (
    "No sound output was found on this computer; `throwcount render` writes what would be "
    "heard to a file."
)

EPILOG: Final = """\
\b
Examples:
  throwcount outputs
  throwcount play 531 --output "Built-in"
"""


@click.command("outputs", epilog=EPILOG, context_settings=HELP_OPTIONS)
@json_option
def outputs_command(as_json: bool) -> None:
    """List the sound outputs of this computer.

    The option --output takes any part of a name that no other output has.
    """
    found: list[Device] = []
    try:
        found = outputs()
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
