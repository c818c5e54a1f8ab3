"""What a take told is shown, and what was made of it beside."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from caller.console.terminal import show, show_json, tell
from caller.takes.listen_page import listen_page
from caller.takes.listen_picture import can_be_drawn, draw_take
from caller.takes.take import HeardTake

NOT_DRAWN: Final = "was not drawn, as no catch was heard."


@dataclass(frozen=True, slots=True)
class Beside:
    """What was made of a take besides what is shown."""

    picture: Path | None
    """The file to draw in that was asked for; None for none."""
    drawn: Path | None
    """The same if it was drawn in, else None."""
    number: int | None
    """Its number in the practice log; None where it is not kept."""


def drawn_take(heard: HeardTake, picture: Path | None, *, overwrite: bool) -> Path | None:
    """Draw a take on which a catch was heard; return where to, None where nothing was drawn.

    Raises
    ------
    OutsideError
        If matplotlib is not installed.
    FileError
        If the file cannot be written, or is there already.
    """
    if picture is None or not can_be_drawn(heard.report):
        return None
    draw_take(heard, picture, overwrite=overwrite)
    return picture


def tell_take(
    heard: HeardTake, document: Mapping[str, Any], beside: Beside, *, as_json: bool
) -> None:
    """Show what a take told.

    Parameters
    ----------
    heard
        It was listened to.
    document
        What JSON has of it.
    as_json
        Whether it is shown as JSON, or as a page.
    """
    if as_json:
        drawn = None if beside.drawn is None else str(beside.drawn)
        show_json({**document, "picture": drawn, "kept": beside.number})
        return
    show(*listen_page(heard))
    if beside.picture != beside.drawn:
        tell(f"{beside.picture} {NOT_DRAWN}")
    if beside.number is not None:
        tell(f"Kept in the practice log as take {beside.number}: see `throwcount log`.")
