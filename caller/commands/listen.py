"""`throwcount listen`: how steady the catches on a recording are.

A take is compared with a pattern, a routine, a file of beats or with the call that was played.
"""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.options.arguments import (
    FILE,
    chosen,
    flag,
    is_typed,
    json_option,
    log_option,
    option,
)
from throwcount.caller.options.play_options import shared_options
from throwcount.caller.options.request import Request, refuse_without_routine
from throwcount.caller.options.sections import SectionedCommand
from throwcount.caller.options.settings import settings_option
from throwcount.caller.pictures.sheet import check_picture, force_option, picture_option
from throwcount.caller.terminal.text import ASK_FIRST
from throwcount.engine.errors import PatternError
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.timing.timeline import COUNT_IN, RUN_OUT, Beat

if TYPE_CHECKING:
    from throwcount.caller.pieces.piece import Piece
    from throwcount.caller.reports.take import Expectation, HeardTake
    from throwcount.sounds.echo.played_call import PlayedCall

SPARE: Final = 60.0
"""Seconds of an endless call beyond the length of the take: it may have begun before the take."""

NO_LENGTH: Final = (
    "The pattern is taken to go on as long as the take, so its end may look like a drop; "
    "give its length, such as --cycles 16, if it had one."
)

NO_SOUND: Final = (
    "What was played is not known: if the call can be heard on the take, its clicks count as "
    "thuds. Give its file with --call, or what was played with --pattern or --routine."
)

OF_THE_TAKE: Final = frozenset({"take", "headphones", "dwell", "props", "log_file"})
"""Fields of a request that apply even if it is not known what was thrown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What was thrown and played, as the options tell; None for what they do not."""

    pattern: str | None = None
    """The pattern that was thrown, as it is written."""
    routine: Path | None = None
    """The file of the routine that was gone through."""
    against: Path | None = None
    """A file of the beats."""
    call: Path | None = None
    """A file of the sound that was played."""


def subject_from(ctx: click.Context) -> Subject:
    """Return the subject of a command; raise `click.UsageError` if two options contradict."""
    subject = Subject(**chosen(ctx.params, Subject))
    named = [
        f"--{name}"
        for name in ("pattern", "routine", "against")
        if getattr(subject, name) is not None
    ]
    if len(named) > 1:
        raise click.UsageError(f"{' and '.join(named)} both say what was thrown; keep one of them.")
    if ctx.params["headphones"] and subject.call is not None:
        raise click.UsageError(
            "--call is the sound on the take, and with --headphones there is none; keep one."
        )
    if subject.pattern is not None or subject.routine is not None:
        if subject.call is not None:
            raise click.UsageError(
                f"With {named[0]} the sound of the call is known without --call."
            )
    else:
        _refuse_options(ctx)
    return subject


def _refuse_options(ctx: click.Context) -> None:
    """Raise `click.UsageError` if options were typed that need a pattern or a routine."""
    ours = {each.name for each in fields(Request)} - OF_THE_TAKE
    for param in ctx.command.params:
        if param.name in ours and is_typed(ctx, param.name or ""):
            raise click.UsageError(f"{param.opts[0]} belongs to --pattern or --routine.")


@contextmanager
def asked_for(subject: Subject, request: Request, seconds: float) -> Iterator["Expectation"]:
    """Hand out what a take is compared with, for as long as the music of a routine is open."""
    from throwcount.caller.pieces.routine import routine_source
    from throwcount.caller.reports.take import Expectation

    if subject.pattern is not None:
        yield _pattern(subject.pattern, request, seconds)
    elif subject.routine is not None:
        source = routine_source(subject.routine, request)
        with source.in_a_file() as piece:
            yield Expectation(
                title=piece.title,
                beats=piece.timeline,
                call=_played(piece, request),
                dwell=source.request.dwell,
                props=source.file.props or "",
            )
    else:
        yield _files(subject, request)


def _pattern(text: str, request: Request, seconds: float) -> "Expectation":
    from throwcount.caller.commands.shared import reporting_wrong_input
    from throwcount.caller.pieces.pattern import pattern_piece
    from throwcount.caller.pieces.piece import DEFAULT_RATE, about_tempo, called_voice
    from throwcount.caller.reports.take import Expectation
    from throwcount.caller.terminal.printing import shortened
    from throwcount.engine.patterns.rules import read

    refuse_without_routine(request)
    with reporting_wrong_input(text):
        pattern = read(text)
    voice = called_voice(request, request.rate or DEFAULT_RATE)
    piece = pattern_piece(pattern, request, voice, None)
    endless, tempo = piece.timeline.seconds is None, piece.run.tempo
    change = "" if tempo.start == tempo.end else f" to {tempo.end:g}"
    return Expectation(
        title=f"{shortened(pattern.text)} at {tempo.start:g}{change} beats a minute",
        beats=piece.timeline,
        endless=endless,
        call=_played(piece, request, seconds + SPARE),
        dwell=request.dwell,
        pattern=pattern,
        tempo=tempo.start,
        notes=(*about_tempo(piece), *([NO_LENGTH] if endless else [])),
    )


def _played(piece: "Piece", request: Request, seconds: float | None = None) -> "PlayedCall | None":
    """Return the call as it was played; of an endless one, the first `seconds`."""
    from throwcount.sounds.echo.played_call import PlayedCall

    if request.headphones:
        return None
    return PlayedCall(lambda: piece.sound(seconds), piece.voice.rate)


def _files(subject: Subject, request: Request) -> "Expectation":
    """Return what is known from the files of beats and of sound, if there are any."""
    from throwcount.caller.reports.take import Expectation, beats_in
    from throwcount.sounds.echo.played_call import call_in_file

    call = None if subject.call is None else call_in_file(subject.call)
    notes = () if call is not None or request.headphones else (NO_SOUND,)
    if subject.against is None:
        return Expectation(call=call, notes=notes)
    beats = beats_in(subject.against)
    pattern, tempo = _pattern_of(beats)
    return Expectation(
        title=f"the beats in {subject.against.name}",
        beats=beats,
        call=call,
        dwell=request.dwell,
        pattern=pattern,
        tempo=tempo,
        notes=notes,
    )


def _pattern_of(beats: list[Beat]) -> tuple[Pattern | None, float | None]:
    """Return the pattern that is thrown, and its first tempo; None if there are several."""
    from throwcount.engine.patterns.rules import read

    thrown = [beat for beat in beats if beat.part not in {COUNT_IN, RUN_OUT}]
    parts = {beat.part for beat in thrown}
    if len(parts) != 1:
        return None, None
    try:
        return read(parts.pop()), thrown[0].tempo
    except PatternError:
        return None, None


EPILOG: Final = f"""\
{ASK_FIRST}

\b
Examples:
  throwcount listen take.m4a
  throwcount listen take.wav --pattern 531 --tempo 180 --cycles 40
  throwcount listen take.wav --routine walk.toml
  throwcount listen take.wav --against e.json --call 531.wav
  throwcount listen --live 531 --sets 5
"""

EVERYDAY: Final = (
    *("--pattern", "--routine", "--call", "--live", "--headphones", "--picture", "--json"),
    *("--force", "--tempo", "--cycles", "--seconds", "--keep", "--props"),
)

LIVE: Final = "--live"


class TakeOrLive(SectionedCommand):
    """Two commands with one name: with --live it listens to a practice, else to a take."""

    def make_context(
        self,
        info_name: str | None,
        args: list[str],
        parent: click.Context | None = None,
        **extra: Any,  # noqa: ANN401 - as in click
    ) -> click.Context:
        """Make the context of the command that is asked for."""
        words = args[: args.index("--")] if "--" in args else args
        if LIVE not in words:
            return super().make_context(info_name, args, parent, **extra)
        from throwcount.caller.commands.listen_live import live

        others = [*(word for word in words if word != LIVE), *args[len(words) :]]
        return live.make_context(f"{info_name} {LIVE}", others, parent, **extra)


@click.command(
    "listen", cls=TakeOrLive, everyday=EVERYDAY, epilog=EPILOG, context_settings=HELP_OPTIONS
)
@click.argument("take", type=FILE)
@flag(
    LIVE,
    "Play a pattern or a routine, and listen meanwhile: see listen --live --help.",
    expose_value=False,
)
@option("--pattern PATTERN", str, "Compare with this pattern, such as 531.")
@option("--routine FILE", FILE, "Compare with this routine.")
@option("--against FILE", FILE, "Compare with the beats that `throwcount render --events` wrote.")
@option(
    "--call FILE", FILE, "Name the file that was played, where no pattern and no routine is given."
)
@flag("--headphones", "Do not look for the call on the take: it was heard on headphones.")
@flag("--keep", "Keep what the take tells in the practice log.", name="keep_report")
@option(
    "--props NAME",
    str,
    "Name what was juggled, such as clubs, for the log.",
    default="",
    show_default=False,
)
@log_option
@picture_option
@force_option
@json_option
@shared_options
@settings_option
@click.pass_context
def listen_command(  # noqa: PLR0913, PLR0917 - click gives every option as an argument of its own
    ctx: click.Context,
    /,
    take: Path,
    keep_report: bool,
    picture: Path | None,
    force: bool,
    as_json: bool,
    **_options: object,
) -> None:
    """Listen to a take, and tell how steady it was.

    TAKE is a recording of somebody who juggles. The thuds of the catches are found and compared
    with a pattern, a routine or a file of beats, or else with the tempo that they keep themselves.

    The recording may be WAV, FLAC, OGG or MP3, or whatever a phone records. If the call can be
    heard on the take, it is found and removed; give the same options as to `throwcount play` or
    `render`.
    """
    from throwcount.caller.log.log import PracticeLog
    from throwcount.caller.reports.document import listen_document, take_summary
    from throwcount.caller.reports.picture import TakeOutputs, drawn_take, tell_take

    subject, request = subject_from(ctx), Request.of(ctx)
    if picture is not None:
        check_picture(picture, overwrite=force)
    with ExitStack() as stack:
        log = stack.enter_context(PracticeLog.open(request.log_file)) if keep_report else None
        heard = _heard(take, subject, request)
        drawn = drawn_take(heard, picture, overwrite=force)
        number = None if log is None else log.keep_take(take_summary(heard, request.props))
    tell_take(heard, listen_document(heard), TakeOutputs(picture, drawn, number), as_json=as_json)


def _heard(take: Path, subject: Subject, request: Request) -> "HeardTake":
    from throwcount.caller.reports.take import listen, seconds_of
    from throwcount.sounds.listening.take import open_take

    with open_take(take) as opened:
        seconds = seconds_of(opened)
        with asked_for(subject, request, seconds) as asked:
            return listen(opened, take, asked)
