"""The options of listening to a practice while it goes on."""

from pathlib import Path
from typing import Final

import click

from caller.console.picture_file import force_option, picture_option
from caller.options.arguments import (
    Decorated,
    dwell_option,
    json_option,
    with_options,
)

LISTENING_OPTIONS: Final = (
    click.option(
        "--input",
        "microphone",
        metavar="DEVICE",
        help="The microphone: any part of a name that no other input has.",
    ),
    click.option(
        "--headphones",
        is_flag=True,
        help="You hear the call on headphones: the microphone hears catches alone.",
    ),
    click.option(
        "--mark-drops",
        is_flag=True,
        help="Mark the drops that are heard, as the key does; a clean mark takes them back.",
    ),
    click.option(
        "--take",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="Keep the recording; without this it is deleted at the end.",
    ),
    dwell_option,
    picture_option,
    force_option,
    json_option,
)


def listening_options(command: Decorated) -> Decorated:
    """Add the options of listening to a practice to a command."""
    return with_options(LISTENING_OPTIONS, command)
