"""`throwcount render`: a pattern or a routine as an audio file, and what goes with it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from caller.commands import HELP_OPTIONS
from caller.options.arguments import PatternCommand, chosen, json_option
from caller.options.request import Request
from caller.options.shared_options import shared_options
from caller.rehearsals.takeaway import Takeaway, check_takeaway, takeaway_options, write_takeaway
from caller.settings.file import settings_option
from sounds.errors import FileError

if TYPE_CHECKING:
    from caller.rehearsals.piece import Piece


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
    """Refuse to play.

    Raises
    ------
    click.UsageError
        If a device is named.
    """
    if device is not None:
        from sounds.files.audio_file import FORMATS

        file = device if Path(device).suffix.lower() in FORMATS else "FILE"
        raise click.UsageError(
            f"--output {device} names a sound device, for `throwcount play --output`; render "
            f"writes a file, which is named with -o {file}."
        )


@click.command(
    "render", cls=PatternCommand, everyday=EVERYDAY, epilog=EPILOG, context_settings=HELP_OPTIONS
)
@click.argument("subject")
@click.option(
    "-o",
    "file",
    required=True,
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="The file to write; its ending says what kind: .wav, .flac, .ogg, .mp3.",
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
    you give a length. Sample for sample, the file is what `throwcount play` lets you hear.
    """
    from caller.console.terminal import length_told, show_json, tell
    from caller.rehearsals.telling import about, about_file, about_voice

    request, takeaway = Request.of(ctx), Takeaway(**chosen(ctx.params, Takeaway))
    _check_sound(file)
    with _piece(request, as_json=as_json) as piece:
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
def _piece(request: Request, *, as_json: bool) -> Iterator["Piece"]:
    """Hand out what is to be written, while the music of a routine is there."""
    from caller.plans.wrong_routine import read_subject
    from caller.rehearsals.called_voice import called_voice
    from caller.rehearsals.piece import DEFAULT_RATE
    from caller.rehearsals.rehearsal import pattern_piece
    from engine.patterns.pattern import Pattern

    subject = read_subject(request, as_json=as_json)
    if isinstance(subject, Pattern):
        voice = called_voice(request, request.rate or DEFAULT_RATE)
        yield pattern_piece(subject, request, voice, DEFAULT_CYCLES)
        return
    with subject.in_a_file() as piece:
        yield piece


def _check_sound(file: Path) -> None:
    """Refuse a name that cannot be meant.

    Raises
    ------
    click.UsageError
        If the ending stands for no sound format.
    """
    from sounds.files.audio_file import file_format

    try:
        file_format(file, 0)
    except FileError as error:
        raise click.UsageError(str(error)) from error


def _write(piece: "Piece", file: Path, *, overwrite: bool) -> None:
    """Write the audio."""
    from caller.console.progress import progress
    from sounds.files.audio_file import write_audio
    from sounds.placing.moments import frame_at

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


def _told(piece: "Piece") -> str:
    """Return what was written."""
    from caller.rehearsals.telling import part_told

    run = piece.run
    if len(run.parts) > 1:
        return f"{piece.title}, {len(run.parts)} parts with bridges and rests"
    return part_told(run.opening.pattern, run.opening.beats or 0)


def _document(piece: "Piece", file: Path, takeaway: Takeaway) -> dict[str, Any]:
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
