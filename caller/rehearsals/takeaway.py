"""What is taken away beside the sound: beats, MIDI, captions and a page, each in its own file."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Final

import click

from caller.options.arguments import Decorated, with_options
from sounds.errors import FileError
from sounds.files.whole_file import check_free, write_text

if TYPE_CHECKING:
    from caller.rehearsals.piece import Piece


FLAC: Final = ".flac"
PAGE_ENDINGS: Final = {".html", ".htm"}
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
        If two files are one, or an ending stands for nothing.
    FileError
        If a file cannot be put there.
    """
    _check_endings(takeaway)
    taken = {os.path.realpath(sound): "-o"}
    for name, path in takeaway.files():
        option = f"--{name}"
        other = taken.setdefault(os.path.realpath(path), option)
        if other != option:
            raise click.UsageError(f"{other} and {option} both name {path}; each needs its own.")
    for path in (sound, *(path for _, path in takeaway.files())):
        check_free(path, overwrite=overwrite)


def _check_endings(takeaway: Takeaway) -> None:
    from caller.exports.captions import captions_format
    from caller.exports.midi import check_midi_name

    try:
        if takeaway.midi is not None:
            check_midi_name(takeaway.midi)
        if takeaway.captions is not None:
            captions_format(takeaway.captions)
    except FileError as error:
        raise click.UsageError(str(error)) from error
    page = takeaway.page
    if page is not None and page.suffix.lower() not in PAGE_ENDINGS:
        raise click.UsageError(f"--page {page}: a page has the ending .html, to open in a browser.")


def write_takeaway(takeaway: Takeaway, piece: "Piece", sound: Path, *, overwrite: bool) -> None:
    """Write the files that are wanted.

    `sound` is the file with its sound, already written. `overwrite` says whether files that are
    there already are replaced.

    Raises
    ------
    FileError
        If one cannot be written.
    """
    from caller.exports.captions import write_captions
    from caller.exports.midi import write_midi
    from caller.exports.page import write_page
    from caller.rehearsals.events import event_lines

    title, timeline, chapters = piece.title, piece.timeline, piece.chapters
    if takeaway.events is not None:
        lines = event_lines(timeline, piece.voice.rate)
        write_text(takeaway.events, lines, overwrite=overwrite)
    if takeaway.midi is not None:
        write_midi(takeaway.midi, timeline, chapters, title, overwrite=overwrite)
    if takeaway.captions is not None:
        write_captions(takeaway.captions, timeline, chapters, title, overwrite=overwrite)
    if takeaway.page is not None:
        with _page_sound(piece, sound) as page_sound:
            write_page(takeaway.page, title, timeline, chapters, page_sound, overwrite=overwrite)


@contextmanager
def _page_sound(piece: "Piece", sound: Path) -> Iterator[Path]:
    """Hand out the sound as FLAC, which keeps every moment and is small enough for a page."""
    from caller.console.progress import progress
    from sounds.files.audio_file import write_audio
    from sounds.placing.moments import frame_at

    if sound.suffix.lower() == FLAC:
        yield sound
        return
    with TemporaryDirectory(prefix="throwcount-page-") as folder:
        place = Path(folder) / f"sound{FLAC}"
        frames = frame_at(piece.seconds, piece.voice.rate)
        with progress("Sound for the page", frames) as on_frames:
            write_audio(place, piece.sound(), piece.voice.rate, frames, on_frames=on_frames)
        yield place
