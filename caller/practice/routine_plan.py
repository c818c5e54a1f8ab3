"""A routine to be rehearsed, as plain data."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice
from typing import Final

from caller.options.shared_options import Options
from caller.practice.deck import AGAIN_READY
from caller.rehearsals.rehearsal import wording_of
from caller.rehearsals.routine_rehearsal import routine_run, track_under
from caller.routine_file.reading import RoutineFile
from engine.calling.cue_texts import cue_texts
from engine.routines.laying_out import LaidOut
from engine.routines.routine import PatternPart
from engine.routines.routine_from import laid_from
from engine.routines.routine_run import run_parts
from engine.timing.run import Run
from engine.timing.timeline import Cue
from sounds.music.music import Music, Track
from sounds.voices.voice import CallingVoice

NAMED_AFTER: Final = 0.3
"""Seconds from where a part is begun again until it is named."""


@dataclass(frozen=True, slots=True)
class RoutinePlan:
    """A routine to be rehearsed, once or several times.

    Parameters
    ----------
    file, laid
        The routine, from its first part on.
    options
        What the person asked for.
    voice
        Who calls and says the cues.
    music
        Decoded; None without music.
    begin
        The number of the part to begin with.
    ready
        Seconds for filling the hands at the beginning.
    times
        How often it is gone through.
    rest
        Seconds between two times.
    """

    file: RoutineFile
    laid: LaidOut
    options: Options
    voice: CallingVoice
    music: Music | None = None
    begin: int = 1
    ready: float = 8.0
    times: int = 1
    rest: float = 20.0

    @property
    def numbers(self) -> tuple[int, ...]:
        """The numbers of the parts in which something is thrown, in order."""
        return tuple(each.number for each in self.laid.parts if isinstance(each.part, PatternPart))

    def part_from(self, number: int, factor: float, *, again: bool) -> "FromPart":
        """Return what is thrown from a part on.

        Parameters
        ----------
        number
            Of the part.
        factor
            How fast it is against what was planned.
        again
            Whether it is only begun again, with little time and no announcement.
        """
        laid = laid_from(self.laid, number)
        laid = replace(laid, tempo=laid.tempo.scaled(factor))
        if not again:
            run = routine_run(laid, self.options, self.voice, self.ready)
        else:
            options = replace(self.options, announce=False)
            run = routine_run(laid, options, self.voice, AGAIN_READY)
            run = replace(run, prelude=tuple(self._named(laid)))
        numbers = tuple(each for each, _ in run_parts(laid))
        return FromPart(run, numbers, track_under(self.file, laid, run, self.music))

    def _named(self, laid: LaidOut) -> Iterator[Cue]:
        """Yield what is said while the hands are filled: which part it is."""
        if not self.options.cues:
            return
        texts = list(cue_texts(laid.parts[0].part, 0, wording_of(self.options)))
        self.voice.prepare(texts)
        said = (text for text in texts if text not in self.voice.missing)
        for text in islice(said, 1):
            yield Cue(NAMED_AFTER, text)


@dataclass(frozen=True, slots=True)
class FromPart:
    """A routine from a part on.

    Parameters
    ----------
    run
        What is thrown.
    numbers
        For each part of the run the number it has, or that of the part it leads to, in the
        routine.
    track
        The music under it.
    """

    run: Run
    numbers: tuple[int, ...]
    track: Track | None
