"""A routine file as a person asks for it, laid out; and the piece that becomes of it."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from caller.options.routine_options import with_wishes
from caller.options.shared_options import Options
from caller.plans.wrong_routine import adding_up
from caller.rehearsals.called_voice import called_voice
from caller.rehearsals.piece import DEFAULT_RATE, READY, Piece, routine_piece
from caller.rehearsals.routine_rehearsal import (
    laid_out,
    part_number,
    rehearse_routine,
    routine_music,
    track_under,
)
from caller.routine_file.reading import RoutineFile, read_routine
from engine.routines.laying_out import LaidOut


@dataclass(frozen=True, slots=True)
class AskedRoutine:
    """A routine as it is asked for.

    Parameters
    ----------
    file
        What its author wrote.
    options
        What the person asked for, and what the file wishes where they said nothing.
    laid
        Every part at its place.
    """

    file: RoutineFile
    options: Options
    laid: LaidOut


def asked_routine(path: Path, options: Options) -> AskedRoutine:
    """Return the routine in a file.

    Raises
    ------
    RoutineFileError
        With all that is wrong with it, or does not add up.
    click.UsageError
        If something was typed that the file alone can say.
    """
    file = read_routine(path)
    wished = with_wishes(options, file)
    with adding_up(file):
        return AskedRoutine(file, wished, laid_out(file, wished))


@contextmanager
def asked_piece(asked: AskedRoutine) -> Iterator[Piece]:
    """Hand out a routine as it is written to a file, while its music is there.

    Raises
    ------
    click.UsageError
        If there is no such part to begin with.
    MusicError
        If its music cannot be read.
    """
    file, options = asked.file, asked.options
    begin = part_number(asked.laid, options.begin)
    voice = called_voice(options, options.rate or DEFAULT_RATE, file.cue_voice)
    rehearsed = rehearse_routine(file, asked.laid, options, voice, READY, begin=begin)
    with routine_music(file, voice.rate) as music:
        track = track_under(file, rehearsed.laid, rehearsed.run, music)
        yield routine_piece(rehearsed, options, voice, track)
