"""The options of listening to a practice while it goes on."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import click

from caller.console.picture_file import force_option, picture_option
from caller.options.arguments import (
    Decorated,
    chosen,
    dwell_option,
    json_option,
    with_options,
)
from engine.patterns.flight import DWELL_RATIO


@dataclass(frozen=True, slots=True, kw_only=True)
class EarsOptions:
    """What a person asked for.

    Parameters
    ----------
    microphone
        The name of an input or an unmistakable part of it; the default one if None.
    take
        The file that is to hold all that is heard; None for none.
    headphones
        Whether the call is heard on headphones, and so not by the microphone.
    mark_drops
        Whether drops that are heard are marked.
    dwell
        The share of the time that a hand holds an object.
    picture
        A file to draw into; None for none.
    force
        Whether files that are there already are replaced.
    as_json
        Whether JSON is written.
    """

    microphone: str | None = None
    take: Path | None = None
    headphones: bool = False
    mark_drops: bool = False
    dwell: float = DWELL_RATIO
    picture: Path | None = None
    force: bool = False
    as_json: bool = False


EARS: Final = (
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


def ears_options(command: Decorated) -> Decorated:
    """Add the options of listening to a practice to a command."""
    return with_options(EARS, command)


def ears_from(given: Mapping[str, Any]) -> EarsOptions:
    """Return the options from click's arguments, of which others may be among them."""
    return EarsOptions(**chosen(given, EarsOptions))
