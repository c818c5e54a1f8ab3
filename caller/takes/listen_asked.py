"""What a take is held against: a pattern, a routine, beats in a file, or what was played."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from caller.options.arguments import chosen, is_typed, typed_or
from caller.options.routine_options import refuse_without_routine
from caller.options.shared_options import Options, options_from
from engine.errors import PatternError
from engine.patterns.flight import DWELL_RATIO
from engine.patterns.pattern import Pattern
from engine.timing.timeline import COUNT_IN, RUN_OUT, Beat

if TYPE_CHECKING:
    from caller.rehearsals.piece import Piece
    from caller.takes.take import Asked
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What was thrown and played, as a person tells it; None where they do not.

    Parameters
    ----------
    pattern
        As it is written.
    routine
        A routine file.
    against
        A file of beats.
    call
        A file of sound.
    headphones
        Whether the call was heard by the juggler alone.
    dwell
        The share of the time that a hand holds an object.
    """

    pattern: str | None = None
    routine: Path | None = None
    against: Path | None = None
    call: Path | None = None
    headphones: bool = False
    dwell: float = DWELL_RATIO


def subject_from(given: Mapping[str, Any]) -> tuple[Subject, Options]:
    """Return checked options from click's arguments, of which others may be among them.

    Raises
    ------
    click.UsageError
        If two options contradict each other.
    """
    subject = Subject(**chosen(given, Subject))
    named = [
        f"--{name}"
        for name in ("pattern", "routine", "against")
        if getattr(subject, name) is not None
    ]
    if len(named) > 1:
        raise click.UsageError(f"{' and '.join(named)} both say what was thrown; keep one of them.")
    if subject.headphones and subject.call is not None:
        raise click.UsageError(
            "--call is the sound on the take, and with --headphones there is none; keep one."
        )
    if subject.pattern is not None or subject.routine is not None:
        if subject.call is not None:
            raise click.UsageError(
                f"With {named[0]} the sound of the call is known without --call."
            )
    else:
        _refuse_options(click.get_current_context())
    return subject, options_from(given)


def _refuse_options(ctx: click.Context) -> None:
    """Refuse options of what was thrown where nothing says what was.

    Raises
    ------
    click.UsageError
        If one of them was typed.
    """
    ours = {each.name for each in fields(Options)}
    for param in ctx.command.params:
        if param.name in ours and is_typed(ctx, param.name or ""):
            raise click.UsageError(f"{param.opts[0]} belongs to --pattern or --routine.")


@contextmanager
def asked_for(
    subject: Subject, options: Options, seconds: float, *, as_json: bool
) -> "Iterator[Asked]":
    """Hand out what a take is held against, while the music of a routine is there.

    Parameters
    ----------
    subject, options
        As a person tells it.
    seconds
        Length of the take.
    as_json
        Whether what is wrong is told as JSON.
    """
    if subject.pattern is not None:
        yield _pattern(subject.pattern, subject, options, seconds, as_json=as_json)
    elif subject.routine is not None:
        with _routine(subject.routine, subject, options, as_json=as_json) as asked:
            yield asked
    else:
        yield _files(subject, as_json=as_json)


def _pattern(
    text: str, subject: Subject, options: Options, seconds: float, *, as_json: bool
) -> "Asked":
    from caller.console.terminal import shortened
    from caller.patterns.wrong_pattern import wrong_input_told
    from caller.rehearsals.called_voice import called_voice
    from caller.rehearsals.piece import DEFAULT_RATE, READY
    from caller.rehearsals.rehearsal import balance_from, rehearse
    from caller.rehearsals.telling import about_tempo
    from caller.takes.take import Asked
    from engine.patterns.jugglable import read
    from sounds.listening.call.played_call import PlayedCall
    from sounds.placing.score import mix

    refuse_without_routine(options)
    with wrong_input_told(text, as_json):
        pattern = read(text)
    rate = options.rate or DEFAULT_RATE
    voice = called_voice(options, rate)
    rehearsal = rehearse(pattern, options, voice, READY, None)
    timeline, tempo = rehearsal.timeline, rehearsal.run.tempo
    endless = timeline.seconds is None
    played = replace(timeline, seconds=seconds + SPARE) if endless else timeline
    balance = balance_from(options)
    change = "" if tempo.start == tempo.end else f" to {tempo.end:g}"
    return Asked(
        title=f"{shortened(pattern.text)} at {tempo.start:g}{change} beats a minute",
        beats=timeline,
        endless=endless,
        call=(
            None
            if subject.headphones
            else PlayedCall(lambda: mix(played, voice, rate, balance), rate)
        ),
        dwell=subject.dwell,
        pattern=pattern,
        tempo=tempo.start,
        notes=(*about_tempo(rehearsal), *([NO_LENGTH] if endless else [])),
    )


@contextmanager
def _routine(path: Path, subject: Subject, options: Options, *, as_json: bool) -> "Iterator[Asked]":
    from caller.plans.wrong_routine import wrong_routine_told
    from caller.rehearsals.asked_routine import asked_piece, asked_routine
    from caller.takes.take import Asked

    with wrong_routine_told(as_json):
        asked = asked_routine(path, options)
    with asked_piece(asked) as piece:
        yield Asked(
            title=piece.title,
            beats=piece.rehearsal.timeline,
            call=None if subject.headphones else _played(piece),
            dwell=typed_or("dwell", asked.file.dwell) or DWELL_RATIO,
            props=asked.file.props or "",
        )


def _played(piece: "Piece") -> "PlayedCall":
    from sounds.listening.call.played_call import PlayedCall

    return PlayedCall(piece.sound, piece.voice.rate)


def _files(subject: Subject, *, as_json: bool) -> "Asked":
    """Return what files tell; nothing where there are none."""
    from caller.takes.listen_beats import beats_in, wrong_beats_told
    from caller.takes.take import Asked
    from sounds.listening.call.call_file import call_in_file

    call = None if subject.call is None else call_in_file(subject.call)
    notes = () if call is not None or subject.headphones else (NO_SOUND,)
    if subject.against is None:
        return Asked(call=call, notes=notes)
    with wrong_beats_told(subject.against, as_json):
        beats = beats_in(subject.against)
    pattern, tempo = _pattern_of(beats)
    return Asked(
        title=f"the beats in {subject.against.name}",
        beats=beats,
        call=call,
        dwell=subject.dwell,
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
