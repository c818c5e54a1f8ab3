"""`throwcount render`: a pattern as an audio file, and its beats as JSON."""

import os
from pathlib import Path
from typing import Any, Final

import click

from caller.arguments import PatternCommand, json_option
from caller.called_voice import called_voice
from caller.events import event_lines
from caller.options import Options, options_from, shared_options
from caller.progress import progress
from caller.rehearsal import Rehearsal, balance_from, rehearse
from caller.settings.file import settings_option
from caller.telling import about, about_file, about_voice, length_told, part_told
from caller.terminal import show_json, tell
from caller.wrong_pattern import wrong_input_told
from engine.jugglable import read
from sounds.audio_file import FORMATS, file_format, write_audio
from sounds.errors import FileError
from sounds.moments import frame_at
from sounds.score import mix
from sounds.voice import Voice
from sounds.whole_file import check_free, write_text

DEFAULT_RATE: Final = 48_000
DEFAULT_CYCLES: Final = 16
READY: Final = 1.0
"""Seconds before the announcement in a file."""

EPILOG: Final = """\
\b
Examples:
  throwcount render 531 -o 531.wav
  throwcount render 744 --tempo 200 --to 260 --cycles 40 -o 744.flac --events 744.json
  throwcount render "(4,2x)*" --say hands --clicks cycle -o pairs.mp3
"""


@click.command("render", cls=PatternCommand, epilog=EPILOG)
@click.argument("subject")
@click.option(
    "-o",
    "file",
    required=True,
    metavar="FILE",
    type=click.Path(path_type=Path),
    help=f"The file to write; its ending says what kind: {', '.join(FORMATS)}.",
)
@click.option(
    "--events",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write every beat to this file too, as JSON.",
)
@click.option("--force", is_flag=True, help="Replace files that are there already.")
@json_option
@shared_options
@settings_option
def command(
    subject: str,
    file: Path,
    events: Path | None,
    force: bool,
    as_json: bool,
    **given: Any,  # noqa: ANN401 - the shared options, checked when they become `Options`
) -> None:
    """Write a pattern to an audio file.

    Sample for sample it is what `throwcount play` lets you hear. SUBJECT is a pattern, such as
    531. Without a length it is repeated 16 times.
    """
    options = options_from(given)
    _check_files(file, events, options)
    with wrong_input_told(subject, as_json):
        pattern = read(subject)
    for place in (file, events):
        if place is not None:
            check_free(place, overwrite=force)
    voice = called_voice(options.voice, options.rate or DEFAULT_RATE)
    rehearsal = rehearse(pattern, options, voice, READY, DEFAULT_CYCLES)
    seconds = _write(rehearsal, voice, options, file, overwrite=force)
    if events is not None:
        lines = event_lines(rehearsal.timeline, voice.rate)
        write_text(events, lines, overwrite=force)
    if as_json:
        show_json(_document(rehearsal, voice, seconds, file, events))
        return
    beats = rehearsal.run.opening.beats or 0
    tell(f"{file}: {part_told(pattern, beats)}, {length_told(seconds)} long.")
    tell(*about(rehearsal), *about_file(file), *about_voice(voice))


def _check_files(file: Path, events: Path | None, options: Options) -> None:
    """Refuse names that cannot be meant, before any work is done.

    Raises
    ------
    click.UsageError
        If the ending stands for no sound format, both files are one, or the device is a file.
    """
    try:
        file_format(file, 0)
    except FileError as error:
        raise click.UsageError(str(error)) from error
    if events is not None and os.path.realpath(events) == os.path.realpath(file):
        raise click.UsageError(f"-o and --events both name {file}; the beats need their own file.")
    if options.output is not None and Path(options.output).suffix.lower() in FORMATS:
        raise click.UsageError(
            f"--output names a sound device, for play; write the file with -o {options.output}."
        )


def _write(
    rehearsal: Rehearsal, voice: Voice, options: Options, file: Path, *, overwrite: bool
) -> float:
    """Write the audio; return its length in seconds."""
    seconds = rehearsal.timeline.seconds or 0.0
    frames = frame_at(seconds, voice.rate)
    source = mix(rehearsal.timeline, voice, voice.rate, balance_from(options))
    with progress(f"Writing {file.name}", frames) as on_frames:
        write_audio(file, source, voice.rate, frames, overwrite=overwrite, on_frames=on_frames)
    return seconds


def _document(
    rehearsal: Rehearsal, voice: Voice, seconds: float, file: Path, events: Path | None
) -> dict[str, Any]:
    run = rehearsal.run
    return {
        "file": str(file),
        "events": None if events is None else str(events),
        "seconds": seconds,
        "sample_rate": voice.rate,
        "pattern": run.opening.pattern.text,
        "beats": run.opening.beats,
        "tempo": run.tempo.start,
        "to": run.tempo.end,
        "call_every": 1 if rehearsal.thinned is None else rehearsal.thinned.every,
    }
