"""What is taken away beside the sound: beats, MIDI, captions and a page, each in its own file."""

import os
from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Final

import click

from caller.arguments import Decorated, with_options
from caller.events import event_lines
from caller.piece import Piece
from sounds.whole_file import check_free, write_text

_FILE: Final = click.Path(path_type=Path)

OPTIONS: Final = (
    click.option("--events", metavar="FILE", type=_FILE, help="Write every beat too, as JSON."),
    click.option(
        "--midi",
        metavar="FILE",
        type=_FILE,
        help="Write tempo, clicks, parts and calls too, as a Standard MIDI File.",
    ),
    click.option(
        "--captions",
        metavar="FILE",
        type=_FILE,
        help="Write what is thrown and said too, as captions: .vtt (WebVTT) or .lrc.",
    ),
    click.option(
        "--page",
        metavar="FILE",
        type=_FILE,
        help="Write a page for a phone too: one .html file with the sound inside.",
    ),
)


@dataclass(frozen=True, slots=True)
class Takeaway:
    """The files to write beside the sound; None where one is not wanted."""

    events: Path | None = None
    midi: Path | None = None
    captions: Path | None = None
    page: Path | None = None

    def files(self) -> Iterator[tuple[str, Path]]:
        """Yield each file that is wanted, with the name of its option."""
        for each in fields(self):
            path = getattr(self, each.name)
            if path is not None:
                yield each.name, path


def takeaway_options(command: Decorated) -> Decorated:
    """Add the options that name these files to a command."""
    return with_options(OPTIONS, command)


def check_takeaway(takeaway: Takeaway, sound: Path, *, overwrite: bool) -> None:
    """Refuse names that cannot be meant, or are taken, before any work is done.

    Raises
    ------
    click.UsageError
        If two files are one.
    FileError
        If a file cannot be put there, or its ending stands for nothing.
    """
    taken = {os.path.realpath(sound): "-o"}
    for name, path in takeaway.files():
        option = f"--{name}"
        other = taken.setdefault(os.path.realpath(path), option)
        if other != option:
            raise click.UsageError(f"{other} and {option} both name {path}; each needs its own.")
    for path in (sound, *(path for _, path in takeaway.files())):
        check_free(path, overwrite=overwrite)


def write_takeaway(takeaway: Takeaway, piece: Piece, *, overwrite: bool) -> None:
    """Write the files that are wanted.

    Raises
    ------
    FileError
        If one cannot be written.
    """
    timeline = piece.rehearsal.timeline
    if takeaway.events is not None:
        lines = event_lines(timeline, piece.voice.rate)
        write_text(takeaway.events, lines, overwrite=overwrite)
