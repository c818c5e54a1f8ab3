"""`throwcount render`: a pattern or a routine as an audio file.

Beside the sound it writes, each in a file of its own, the beats, MIDI, captions and a page.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.options.arguments import (
    FILE,
    PatternCommand,
    check_sound,
    chosen,
    in_order,
    is_typed,
    json_option,
    option,
)
from throwcount.caller.options.play_options import shared_options
from throwcount.caller.options.request import Request
from throwcount.caller.options.settings import settings_option
from throwcount.sounds.errors import FileError
from throwcount.sounds.files.whole_files import check_free, write_text

if TYPE_CHECKING:
    from throwcount.caller.pieces.piece import Piece
    from throwcount.caller.pieces.routine import RoutineSource
    from throwcount.engine.patterns.pattern import Pattern
    from throwcount.sounds.files.sound_pieces import SoundPieces
    from throwcount.sounds.samples import Samples

PAGE_ENDINGS: Final = {".html", ".htm"}
COMPACT: Final = "compact"
PAGE_SOUNDS: Final = (COMPACT, "exact")

takeaway_options = in_order(
    option("--events FILE", FILE, "Write every beat too, as JSON."),
    option(
        "--midi FILE", FILE, "Write tempo, clicks, parts and calls too, as a Standard MIDI File."
    ),
    option(
        "--captions FILE",
        FILE,
        "Write what is thrown and said too, as captions: .vtt (WebVTT) or .lrc.",
    ),
    option(
        "--page FILE", FILE, "Write a page for a phone too: one .html file with the sound inside."
    ),
    option(
        "--page-sound",
        click.Choice(PAGE_SOUNDS),
        "The sound in the page: compact enough to send, as MP3, or exact, as FLAC.",
        default=COMPACT,
        show_default=True,
    ),
)
"""Those that name the files of a `Takeaway`, and what is in them."""


@dataclass(frozen=True, slots=True)
class Takeaway:
    """The files to write beside the sound; None for one that is not wanted."""

    events: Path | None = None
    midi: Path | None = None
    captions: Path | None = None
    page: Path | None = None
    page_sound: str = COMPACT
    """Which of `PAGE_SOUNDS` the page has."""

    def files(self) -> Iterator[tuple[str, Path]]:
        """Yield each file that is wanted, with the name of its option."""
        for each in fields(self):
            path = getattr(self, each.name)
            if isinstance(path, Path):
                yield each.name, path


def check_takeaway(takeaway: Takeaway, sound: Path, *, overwrite: bool) -> None:
    """Refuse names that are useless or taken, before any work is done.

    Raises
    ------
    click.UsageError
        If two files are one, or an ending stands for no format.
    FileError
        If a file cannot be written there.
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
    from throwcount.caller.exports.captions import captions_format
    from throwcount.caller.exports.midi import check_midi_name

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

    `sound` is the audio file, already written. `overwrite` tells whether to replace other files.

    Raises
    ------
    FileError
        If one cannot be written.
    """
    from throwcount.caller.exports.captions import write_captions
    from throwcount.caller.exports.events import event_lines
    from throwcount.caller.exports.midi import write_midi
    from throwcount.caller.exports.page import write_page

    title, timeline, chapters = piece.title, piece.timeline, piece.chapters
    if takeaway.events is not None:
        lines = event_lines(timeline, piece.voice, piece.part_index)
        write_text(takeaway.events, lines, overwrite=overwrite)
    if takeaway.midi is not None:
        write_midi(takeaway.midi, timeline, chapters, title, overwrite=overwrite)
    if takeaway.captions is not None:
        write_captions(takeaway.captions, timeline, chapters, title, overwrite=overwrite)
    if takeaway.page is not None:
        compact = takeaway.page_sound == COMPACT
        with _page_sound(piece, sound, compact=compact) as page_sound:
            write_page(takeaway.page, title, timeline, chapters, page_sound, overwrite=overwrite)


@contextmanager
def _page_sound(piece: "Piece", sound: Path, *, compact: bool) -> Iterator["SoundPieces"]:
    """Hand out the sound for the page: that of an exact file, else made anew."""
    from throwcount.caller.terminal.printing import progress
    from throwcount.sounds.files.audio_files import EXACT_ENDINGS
    from throwcount.sounds.files.sound_pieces import blocks_of, file_blocks, sound_pieces
    from throwcount.sounds.samples import frame_at

    rate = piece.voice.rate
    frames = frame_at(piece.seconds, rate)
    is_exact = sound.suffix.lower() in EXACT_ENDINGS
    blocks = file_blocks(sound) if is_exact else blocks_of(piece.sound())
    with progress("Sound for the page", frames) as on_frames:

        def told() -> "Iterator[Samples]":
            for block in blocks:
                on_frames(len(block))
                yield block

        yield sound_pieces(told(), rate, frames, compact=compact)


DEFAULT_CYCLES: Final = 16

EPILOG: Final = """\
\b
Examples:
  throwcount render 531 -o 531.wav
  throwcount render 744 --tempo 200 --to 260 -o 744.flac --events 744.json
  throwcount render "(4,2x)*" --say hands --clicks cycle -o pairs.mp3
  throwcount render walk.toml -o walk.flac --page walk.html --midi walk.mid
"""


EVERYDAY: Final = (
    *("-o", "--captions", "--page", "--force", "--tempo", "--to", "--cycles", "--seconds"),
    *("--percent", "--from", "--say", "--clicks", "--voice"),
)


def _refuse_device(_ctx: click.Context, _param: click.Parameter, device: str | None) -> None:
    """Raise `click.UsageError` if a device is named: a file is written, and nothing is played."""
    if device is not None:
        from throwcount.sounds.files.audio_files import FORMATS

        file = device if Path(device).suffix.lower() in FORMATS else "FILE"
        raise click.UsageError(
            f"--output {device} names a sound device, for `throwcount play --output`; render "
            f"writes a file, which is named with -o {file}."
        )


@click.command(
    "render", cls=PatternCommand, everyday=EVERYDAY, epilog=EPILOG, context_settings=HELP_OPTIONS
)
@click.argument("subject")
@option(
    "-o FILE",
    FILE,
    "Write this file; its ending says what kind: .wav, .flac, .ogg, .mp3.",
    name="file",
    required=True,
)
@takeaway_options
@click.option("--force", is_flag=True, help="Replace files that are there already.")
@json_option
@shared_options
@click.option("--output", hidden=True, callback=_refuse_device)
@settings_option
@click.pass_context
def render_command(
    ctx: click.Context, /, file: Path, force: bool, as_json: bool, **_options: object
) -> None:
    """Write a pattern or a routine to an audio file.

    SUBJECT is a pattern, such as 531, or a routine file. A pattern is repeated 16 times, unless
    you give a length. The file is, sample for sample, what `throwcount play` plays.
    """
    from throwcount.caller.commands.shared import read_single
    from throwcount.caller.pieces.piece import about, about_file, about_voice
    from throwcount.caller.terminal.printing import length_text, show_json, tell, warn

    request, takeaway = Request.of(ctx), Takeaway(**chosen(ctx.params, Takeaway))
    check_sound(file)
    if takeaway.page is None and is_typed(ctx, "page_sound"):
        raise click.UsageError("--page-sound is about the page; name that too, with --page FILE.")
    subject = read_single(request)
    check_takeaway(takeaway, file, overwrite=force)
    with _piece(subject, request) as (piece, source):
        _write(piece, file, overwrite=force)
        write_takeaway(takeaway, piece, file, overwrite=force)
    highest_m, warnings = _risks(piece, source)
    if as_json:
        show_json(_document(piece, file, takeaway, highest_m, warnings))
        return
    tell(f"{file}: {_written_summary(piece)}, {length_text(piece.seconds)} long.")
    said = about_voice(piece.voice, piece.said)
    tell(*about(piece), *about_file(file), *said)
    warn(*warnings)


@contextmanager
def _piece(
    subject: "Pattern | RoutineSource", request: Request
) -> Iterator[tuple["Piece", "RoutineSource | None"]]:
    """Hand out what is to be written, and its routine, while the music of that is open."""
    from throwcount.caller.pieces.pattern import pattern_piece
    from throwcount.caller.pieces.piece import DEFAULT_RATE, called_voice
    from throwcount.engine.patterns.pattern import Pattern

    if isinstance(subject, Pattern):
        voice = called_voice(request, request.rate or DEFAULT_RATE)
        yield pattern_piece(subject, request, voice, DEFAULT_CYCLES), None
        return
    with subject.in_a_file() as piece:
        yield piece, subject


def _risks(piece: "Piece", source: "RoutineSource | None") -> tuple[float | None, list[str]]:
    """Return how many metres the highest throw rises above the hands, and what may go wrong."""
    if source is None:
        return piece.highest_m, list(piece.warnings)
    from throwcount.caller.plans.page import concern_sentences, highest_m

    order = source.order(piece.run)
    return highest_m(order, source.request.room), list(concern_sentences(order))


def _write(piece: "Piece", file: Path, *, overwrite: bool) -> None:
    """Write the audio, with a progress bar."""
    from throwcount.caller.terminal.printing import progress
    from throwcount.sounds.files.audio_files import write_audio
    from throwcount.sounds.samples import frame_at

    rate = piece.voice.rate
    frames = frame_at(piece.seconds, rate)
    with progress(f"Writing {file.name}", frames) as on_frames:
        write_audio(
            file,
            piece.sound(),
            rate,
            frames,
            overwrite=overwrite,
            on_frames=on_frames,
            title=piece.title,
            chapters=piece.chapters,
        )


def _written_summary(piece: "Piece") -> str:
    """Return in words what was written."""
    from throwcount.caller.pieces.piece import part_length

    run = piece.run
    if len(run.parts) > 1:
        return f"{piece.title}, {len(run.parts)} parts with bridges and rests"
    return part_length(run.opening.pattern, run.opening.beats or 0)


def _document(
    piece: "Piece", file: Path, takeaway: Takeaway, highest_m: float | None, warnings: list[str]
) -> dict[str, Any]:
    run = piece.run
    single = len(run.parts) == 1
    written = {name: str(path) for name, path in takeaway.files()}
    return {
        "file": str(file),
        "events": None,
        **written,
        "seconds": piece.seconds,
        "sample_rate": piece.voice.rate,
        "title": piece.title,
        "pattern": run.opening.pattern.text if single else None,
        "beats": sum(part.beats or 0 for part in run.parts),
        "tempo": run.tempo.start,
        "to": run.tempo.end,
        "call_every": max((thinned.every for thinned in piece.thinned), default=1),
        "highest_m": highest_m,
        "warnings": warnings,
    }
