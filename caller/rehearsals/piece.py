"""A piece: all that is written to a file or files, of a pattern or of a routine."""

from dataclasses import dataclass
from typing import Final

from caller.options.shared_options import Options
from caller.rehearsals.rehearsal import Rehearsal, balance_from, rehearse
from caller.rehearsals.routine_rehearsal import RoutineRehearsal, routine_balance
from engine.patterns.pattern import Pattern
from engine.routines.chapters import Chapter, chapters_of
from sounds.music.music import Track
from sounds.placing.mixer import Mixer
from sounds.placing.score import Balance, mix
from sounds.voices.voice import CallingVoice

DEFAULT_RATE: Final = 48_000
"""Frames a second of a file."""

READY: Final = 1.0
"""Seconds before the announcement in a file."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece that ends.

    Parameters
    ----------
    title
        Of the pattern or the routine.
    rehearsal
        Its run and its beats.
    voice
        Who speaks.
    balance
        What is heard, and how loud.
    chapters
        What comes when.
    track
        The music under it; None without any.
    """

    title: str
    rehearsal: Rehearsal
    voice: CallingVoice
    balance: Balance
    chapters: tuple[Chapter, ...]
    track: Track | None = None

    @property
    def seconds(self) -> float:
        """Its length."""
        return self.rehearsal.timeline.seconds or 0.0

    def sound(self) -> Mixer:
        """Return it as sound."""
        timeline = self.rehearsal.timeline
        return mix(timeline, self.voice, self.voice.rate, self.balance, self.track)


def pattern_piece(
    pattern: Pattern, options: Options, voice: CallingVoice, ready: float, cycles: int
) -> Piece:
    """Return a pattern as a piece; parameters as those of `rehearse`."""
    rehearsal = rehearse(pattern, options, voice, ready, cycles)
    chapters = tuple(chapters_of(rehearsal.run))
    return Piece(pattern.text, rehearsal, voice, balance_from(options), chapters)


def routine_piece(
    rehearsed: RoutineRehearsal, options: Options, voice: CallingVoice, track: Track | None
) -> Piece:
    """Return a routine as a piece."""
    return Piece(
        title=rehearsed.file.title,
        rehearsal=rehearsed.rehearsal,
        voice=voice,
        balance=routine_balance(rehearsed.file, options),
        chapters=rehearsed.order.chapters,
        track=track,
    )
