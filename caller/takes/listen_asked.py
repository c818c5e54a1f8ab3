"""What a take is held against: a pattern, a routine, beats in a file, or what was played."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from caller.options.arguments import chosen, is_typed
from caller.options.request import Request
from caller.options.routine_options import refuse_without_routine
from engine.errors import PatternError
from engine.patterns.pattern import Pattern
from engine.timing.timeline import COUNT_IN, RUN_OUT, Beat

if TYPE_CHECKING:
    from caller.rehearsals.piece import Piece
    from caller.takes.take import Expectation
    from sounds.listening.call.played_call import PlayedCall


SPARE: Final = 60.0
"""Seconds of a call without end beyond the length of the take: it may have begun before it."""

NO_LENGTH: Final = (
    "The pattern is taken to go on as long as the take, so that its end may look like a drop; "
    "give its length, such as --cycles 16, if it had one."
)


NO_SOUND: Final = (
    "What was played is not known: if the call can be heard on the take, its clicks count as "
    "thuds. Give its file with --call, or what was played with --pattern or --routine."
)


OF_THE_TAKE: Final = frozenset({"take", "headphones", "dwell", "props", "log_file"})
"""Of a request, what has its place whatever is known of what was thrown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What was thrown and played, as a person tells it; None where they do not."""

    pattern: str | None = None
    """The pattern, as it is written."""
    routine: Path | None = None
    """A routine file."""
    against: Path | None = None
    """A file of beats."""
    call: Path | None = None
    """A file of sound."""


def subject_from(ctx: click.Context) -> Subject:
    """Return what the arguments of a command tell of it.

    Raises
    ------
    click.UsageError
        If two options contradict each other.
    """
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
    """Refuse options of what was thrown where nothing says what was.

    Raises
    ------
    click.UsageError
        If one of them was typed.
    """
    ours = {each.name for each in fields(Request)} - OF_THE_TAKE
    for param in ctx.command.params:
        if param.name in ours and is_typed(ctx, param.name or ""):
            raise click.UsageError(f"{param.opts[0]} belongs to --pattern or --routine.")


@contextmanager
def asked_for(
    subject: Subject, request: Request, seconds: float, *, as_json: bool
) -> Iterator["Expectation"]:
    """Hand out what a take is held against, while the music of a routine is there.

    `as_json` says whether what is wrong is told as JSON.
    """
    from caller.plans.wrong_routine import wrong_routine_told
    from caller.rehearsals.routine_rehearsal import routine_source
    from caller.takes.take import Expectation

    if subject.pattern is not None:
        yield _pattern(subject.pattern, request, seconds, as_json=as_json)
    elif subject.routine is not None:
        with wrong_routine_told(as_json):
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
        yield _files(subject, request, as_json=as_json)


def _pattern(text: str, request: Request, seconds: float, *, as_json: bool) -> "Expectation":
    from caller.console.terminal import shortened
    from caller.patterns.wrong_pattern import wrong_input_told
    from caller.rehearsals.called_voice import called_voice
    from caller.rehearsals.piece import DEFAULT_RATE
    from caller.rehearsals.rehearsal import pattern_piece
    from caller.rehearsals.telling import about_tempo
    from caller.takes.take import Expectation
    from engine.patterns.jugglable import read

    refuse_without_routine(request)
    with wrong_input_told(text, as_json):
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
    """Return the call as it was played, so many seconds of one that never ends."""
    from sounds.listening.call.played_call import PlayedCall

    if request.headphones:
        return None
    return PlayedCall(lambda: piece.sound(seconds), piece.voice.rate)


def _files(subject: Subject, request: Request, *, as_json: bool) -> "Expectation":
    """Return what files tell; nothing where there are none."""
    from caller.takes.listen_beats import beats_in, wrong_beats_told
    from caller.takes.take import Expectation
    from sounds.listening.call.call_file import call_in_file

    call = None if subject.call is None else call_in_file(subject.call)
    notes = () if call is not None or request.headphones else (NO_SOUND,)
    if subject.against is None:
        return Expectation(call=call, notes=notes)
    with wrong_beats_told(subject.against, as_json):
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
    """Return the one pattern that is thrown, and its tempo at first; None where there are more."""
    from engine.patterns.jugglable import read

    thrown = [beat for beat in beats if beat.part not in {COUNT_IN, RUN_OUT}]
    parts = {beat.part for beat in thrown}
    if len(parts) != 1:
        return None, None
    try:
        return read(parts.pop()), thrown[0].tempo
    except PatternError:
        return None, None
