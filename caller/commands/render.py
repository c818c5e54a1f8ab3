"""`throwcount render`: a pattern or a routine as an audio file, and what goes with it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from caller.commands import HELP_OPTIONS
from caller.options.arguments import PatternCommand, chosen, json_option
from caller.options.routine_options import refuse_without_routine
from caller.options.shared_options import Options, options_from, shared_options
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
def command(
    subject: str,
    file: Path,
    force: bool,
    as_json: bool,
    **given: Any,  # noqa: ANN401 - the options, checked when they become dataclasses
) -> None:
    """Write a pattern or a routine to an audio file.

    SUBJECT is a pattern, such as 531, or a routine file. A pattern is repeated 16 times, unless
    you give a length. Sample for sample, the file is what `throwcount play` lets you hear.
    """
    from caller.console.terminal import length_told, show_json, tell
    from caller.rehearsals.telling import about, about_file, about_voice
    from caller.routine_file.reading import is_routine_file

    options, takeaway = options_from(given), Takeaway(**chosen(given, Takeaway))
    _check_sound(file)
    piece_of = _routine if is_routine_file(subject) else _pattern
    with piece_of(subject, options, as_json=as_json) as piece:
        check_takeaway(takeaway, file, overwrite=force)
        _write(piece, file, overwrite=force)
        write_takeaway(takeaway, piece, file, overwrite=force)
    if as_json:
        show_json(_document(piece, file, takeaway))
        return
    tell(f"{file}: {_told(piece)}, {length_told(piece.seconds)} long.")
    said = about_voice(piece.voice, piece.rehearsal.timeline)
    tell(*about(piece.rehearsal), *about_file(file), *said)


@contextmanager
def _pattern(subject: str, options: Options, *, as_json: bool) -> Iterator["Piece"]:
    """Hand out a pattern as a piece."""
    from caller.patterns.wrong_pattern import wrong_input_told
    from caller.rehearsals.called_voice import called_voice
    from caller.rehearsals.piece import DEFAULT_RATE, READY, pattern_piece
    from engine.patterns.jugglable import read

    refuse_without_routine(options)
    with wrong_input_told(subject, as_json):
        pattern = read(subject)
    voice = called_voice(options, options.rate or DEFAULT_RATE)
    yield pattern_piece(pattern, options, voice, READY, DEFAULT_CYCLES)


@contextmanager
def _routine(subject: str, options: Options, *, as_json: bool) -> Iterator["Piece"]:
    """Hand out a routine as a piece, while its music is there."""
    from caller.plans.wrong_routine import wrong_routine_told
    from caller.rehearsals.asked_routine import asked_piece, asked_routine

    with wrong_routine_told(as_json):
        asked = asked_routine(Path(subject), options)
    with asked_piece(asked) as piece:
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

    run = piece.rehearsal.run
    if len(run.parts) > 1:
        return f"{piece.title}, {len(run.parts)} parts with bridges and rests"
    return part_told(run.opening.pattern, run.opening.beats or 0)


def _document(piece: "Piece", file: Path, takeaway: Takeaway) -> dict[str, Any]:
    rehearsal, run = piece.rehearsal, piece.rehearsal.run
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
        "call_every": 1 if rehearsal.thinned is None else rehearsal.thinned.every,
    }
