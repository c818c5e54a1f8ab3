"""What is to be known of the music of a routine before it is heard."""

from collections.abc import Iterator
from typing import Final

from caller.console.terminal import length_told
from caller.routine_file.reading import RoutineFile
from engine.routines.laying_out import LaidOut
from engine.routines.routine_run import music_begins
from engine.routines.running_order import RunningOrder
from engine.timing.run import Run
from sounds.errors import MusicError
from sounds.music.decoding import frames_of

FINE: Final = 1_000
"""Frames a second by which the length of music is told, enough for milliseconds."""


def music_notes(file: RoutineFile, laid: LaidOut, run: Run, order: RunningOrder) -> Iterator[str]:
    """Yield what is wrong with the music: that it cannot be read, or ends before the throws do.

    `file` is what the author of the routine wrote.
    """
    begins = music_begins(laid, run)
    if file.music is None or begins is None:
        return
    try:
        over = begins + frames_of(file.music.path, FINE) / FINE
    except MusicError as error:
        yield str(error)
        return
    last = order.entries[-1]
    thrown = last.time + last.seconds
    if over < thrown:
        yield (
            f"The music is over at {length_told(over)}, and the throws end at "
            f"{length_told(thrown)}."
        )
