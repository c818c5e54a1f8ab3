"""`throwcount render`: a pattern or a routine as an audio file, and what goes with it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import click

from caller.commands import HELP_OPTIONS
from caller.console.progress import progress
from caller.console.terminal import show_json, tell
from caller.options.arguments import PatternCommand, chosen, json_option
from caller.options.request import Request
from caller.options.shared_options import shared_options
from caller.plans.wrong_routine import read_subject
from caller.rehearsals.called_voice import called_voice
from caller.rehearsals.piece import DEFAULT_RATE, Piece
from caller.rehearsals.rehearsal import pattern_piece
from caller.rehearsals.routine_rehearsal import RoutineSource
from caller.rehearsals.takeaway import Takeaway, check_takeaway, takeaway_options, write_takeaway
from caller.rehearsals.telling import about, about_file, about_voice, length_told, part_told
from caller.settings.file import settings_option
from engine.patterns.pattern import Pattern
from sounds.errors import FileError
from sounds.files.audio_file import FORMATS, file_format, write_audio
from sounds.placing.moments import frame_at

DEFAULT_CYCLES: Final = 16

EPILOG: Final = """\
\b
Examples:
  throwcount render 531 -o 531.wav
  throwcount render 744 --tempo 200 --to 260 --cycles 40 -o 744.flac --events 744.json
  throwcount render "(4,2x)*" --say hands --clicks cycle -o pairs.mp3
  throwcount render walk.toml -o walk.flac --page walk.html --midi walk.mid
"""


@click.command("render", cls=PatternCommand, epilog=EPILOG, context_settings=HELP_OPTIONS)
@click.argument("subject")
@click.option(
    "-o",
    "file",
    required=True,
    metavar="FILE",
    type=click.Path(path_type=Path),
    help=f"The file to write; its ending says what kind: {', '.join(FORMATS)}.",
)
@takeaway_options
@click.option("--force", is_flag=True, help="Replace files that are there already.")
@json_option
@shared_options
@settings_option
@click.pass_context
def command(
    ctx: click.Context, /, file: Path, force: bool, as_json: bool, **_options: object
) -> None:
    """Write a pattern or a routine to an audio file.

    Sample for sample it is what `throwcount play` lets you hear. SUBJECT is a pattern, such as
    531, which is repeated 16 times unless you give a length, or a routine file.
    """
    request, takeaway = Request.of(ctx), Takeaway(**chosen(ctx.params, Takeaway))
    _check_sound(file, request)
    with _piece(read_subject(request, as_json=as_json), request) as piece:
        check_takeaway(takeaway, file, overwrite=force)
        _write(piece, file, overwrite=force)
        write_takeaway(takeaway, piece, file, overwrite=force)
    if as_json:
        show_json(_document(piece, file, takeaway))
        return
    tell(f"{file}: {_told(piece)}, {length_told(piece.seconds)} long.")
    said = about_voice(piece.voice, piece.timeline)
    tell(*about(piece), *about_file(file), *said)


@contextmanager
def _piece(subject: Pattern | RoutineSource, request: Request) -> Iterator[Piece]:
    """Hand out what is to be written, while the music of a routine is there."""
    if isinstance(subject, RoutineSource):
        with subject.in_a_file() as piece:
            yield piece
    else:
        voice = called_voice(request, request.rate or DEFAULT_RATE)
        yield pattern_piece(subject, request, voice, DEFAULT_CYCLES)


def _check_sound(file: Path, request: Request) -> None:
    """Refuse a name that cannot be meant.

    Raises
    ------
    click.UsageError
        If the ending stands for no sound format, or the device is a file.
    """
    try:
        file_format(file, 0)
    except FileError as error:
        raise click.UsageError(str(error)) from error
    if request.output is not None and Path(request.output).suffix.lower() in FORMATS:
        raise click.UsageError(
            f"--output names a sound device, for play; write the file with -o {request.output}."
        )


def _write(piece: Piece, file: Path, *, overwrite: bool) -> None:
    """Write the audio."""
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


def _told(piece: Piece) -> str:
    """Return what was written."""
    run = piece.run
    if len(run.parts) > 1:
        return f"{piece.title}, {len(run.parts)} parts with bridges and rests"
    return part_told(run.opening.pattern, run.opening.beats or 0)


def _document(piece: Piece, file: Path, takeaway: Takeaway) -> dict[str, Any]:
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
        "call_every": 1 if piece.thinned is None else piece.thinned.every,
    }
