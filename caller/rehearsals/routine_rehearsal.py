"""From a routine file and the options to a run with its voices, its running order and its music."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Final

import click

from caller.console.near import near
from caller.console.progress import progress
from caller.music.reading import read_music
from caller.options.shared_options import Options
from caller.rehearsals.rehearsal import Rehearsal, called, said_as_asked, wording_of
from caller.routine_file.reading import RoutineFile
from engine.calling.announcement import announcement
from engine.calling.cue_texts import cue_texts
from engine.patterns.flight import DWELL_RATIO, HANDS_HEIGHT
from engine.patterns.orbits import start
from engine.routines.laying_out import LaidOut, lay_out
from engine.routines.routine import PatternPart
from engine.routines.routine_from import laid_from
from engine.routines.routine_run import cue_words, music_begins, run_parts
from engine.routines.running_order import Room, RunningOrder, running_order
from engine.timing.run import Run, Wording
from sounds.music.music import USUAL_DUCK, Music, Track
from sounds.placing.score import Balance
from sounds.voices.cue_voice import cue_line, cue_paces
from sounds.voices.voice import CallingVoice

BATCH: Final = 50
"""Cue calls that a voice gets ready at a time, so that there is progress to be seen."""


@dataclass(frozen=True, slots=True)
class RoutineRehearsal:
    """A routine, or what is left of it from a part on, that is ready to be heard.

    Parameters
    ----------
    file
        What its author wrote.
    laid
        Every part at its place.
    rehearsal
        The run, and its beats with the calls that can be said.
    order
        The running order.
    """

    file: RoutineFile
    laid: LaidOut
    rehearsal: Rehearsal
    order: RunningOrder

    @property
    def run(self) -> Run:
        """What is thrown, how fast, and what is said."""
        return self.rehearsal.run


def track_under(file: RoutineFile, laid: LaidOut, run: Run, music: Music | None) -> Track | None:
    """Return decoded music at its place under a run; None without music."""
    begins = music_begins(laid, run)
    if music is None or file.music is None or begins is None:
        return None
    duck = USUAL_DUCK if file.music.duck is None else file.music.duck
    return Track(music, begins, file.music.level, duck)


def laid_out(file: RoutineFile, options: Options) -> LaidOut:
    """Return the routine of a file with every part at its place, as fast as it is wanted.

    Raises
    ------
    RoutineError
        With all that does not add up.
    click.UsageError
        If the tempo is to be another than that of the music.
    """
    routine = replace(file.routine, first=options.first, count_in=options.count_in)
    laid = lay_out(routine)
    if options.percent is None:
        return laid
    if laid.routine.music is not None:
        raise click.UsageError(
            "--percent changes the tempo, and in this routine it is the music that gives it."
        )
    return replace(laid, tempo=laid.tempo.scaled(options.percent / 100))


def part_number(laid: LaidOut, wanted: str | None) -> int | None:
    """Return the number of the part that is wanted, by its number or its name; None for none.

    Raises
    ------
    click.UsageError
        If there is no such part, or it is a rest at the end.
    """
    if wanted is None:
        return None
    names = [each.part.title for each in laid.parts]
    if wanted.isdecimal() and 1 <= int(wanted) <= len(names):
        return int(wanted)
    if wanted in names:
        return names.index(wanted) + 1
    raise click.UsageError(
        f"--from {wanted}: the routine has no such part; its parts are 1 to {len(names)}."
        + near(wanted, names)
    )


def rehearse_routine(  # noqa: PLR0913 - a routine, where it begins, and how it is called
    file: RoutineFile,
    laid: LaidOut,
    options: Options,
    voice: CallingVoice,
    ready: float,
    *,
    begin: int | None = None,
) -> RoutineRehearsal:
    """Return a routine that is ready to be heard.

    Parameters
    ----------
    file, laid
        The routine.
    options
        What the person asked for.
    voice
        Who calls and who says the cues; told to get ready for what is said.
    ready
        Seconds to fill the hands, unless the options say.
    begin
        The number of the part to begin with; the first if None.
    """
    if begin is not None:
        laid = laid_from(laid, begin)
    prepare_cues(file, laid, options, voice)
    run = routine_run(laid, options, voice, ready if options.ready is None else options.ready)
    room = Room(
        file.ceiling,
        HANDS_HEIGHT if file.hands is None else file.hands,
        DWELL_RATIO if file.dwell is None else file.dwell,
    )
    return RoutineRehearsal(file, laid, called(run, voice), running_order(laid, run, room))


def routine_run(laid: LaidOut, options: Options, voice: CallingVoice, ready: float) -> Run:
    """Return a routine as a run.

    Parameters
    ----------
    laid
        Every part at its place.
    options
        What the person asked for.
    voice
        Who calls and says the cues; quicker if it is ready for them, see `prepare_cues`.
    ready
        Seconds to fill the hands.
    """
    wording = wording_of(options)
    run = Run(
        parts=tuple(part for _, part in run_parts(laid)),
        tempo=laid.tempo,
        first=laid.routine.first,
        ready=ready,
    )
    run = said_as_asked(run, _announcement(laid, options, wording), options, voice)
    if not options.cues:
        return run
    cues = cue_words(laid, wording, cue_paces(voice), lambda text: text not in voice.missing)
    return replace(run, cues=tuple(cues))


def prepare_cues(file: RoutineFile, laid: LaidOut, options: Options, voice: CallingVoice) -> None:
    """Have the voice get ready for all that may be said before a change."""
    if not options.cues:
        return
    wording = wording_of(options)
    texts = [text for each in laid.parts for text in cue_texts(each.part, each.change, wording)]
    lines = [cue_line(text) for text in dict.fromkeys(texts)]
    with progress(f"Words for {file.title}", len(lines)) as done:
        for first in range(0, len(lines), BATCH):
            batch = lines[first : first + BATCH]
            voice.prepare(batch)
            done(len(batch))


def _announcement(laid: LaidOut, options: Options, wording: Wording) -> str:
    opening = laid.parts[0].part
    if not options.announce or options.say == "nothing" or not isinstance(opening, PatternPart):
        return ""
    first = opening.first or laid.routine.first
    held = start(opening.pattern, first)
    return announcement(opening.pattern, laid.tempo.start, first, wording, held)


def routine_balance(file: RoutineFile, options: Options) -> Balance:
    """Return what is heard, and how loud."""
    return Balance(
        options.voice_level,
        options.click_level,
        options.clicks,
        options.tune,
        file.cue_place or "centre",
    )


@contextmanager
def routine_music(file: RoutineFile, rate: int) -> Iterator[Music | None]:
    """Decode the music of a routine, and keep it while the context lasts; None without any."""
    if file.music is None:
        yield None
        return
    with read_music(file.music.path, rate) as music:
        yield music
