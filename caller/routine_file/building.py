"""From a document that is right to the routine of the engine."""

from fractions import Fraction
from typing import Final

from caller.routine_file.checking import Document
from caller.routine_file.music_rules import WrittenMusic, ratio
from caller.routine_file.parts import WrittenPart
from engine.routines.routine import (
    Length,
    MusicBeats,
    PatternPart,
    RestPart,
    Routine,
    RoutinePart,
)

REST: Final = "rest"
COUNT_IN: Final = 4
BAR: Final = 4
"""What holds where the file does not say."""


def routine_of(document: Document, title: str) -> Routine:
    """Return the routine in a document without faults; `title` is for one without its own."""
    top = document.top
    return Routine(
        title=top.title or title,
        parts=tuple(_part(part, top.cue_ahead) for part in document.order),
        tempo=top.tempo,
        first=top.first or "right",
        count_in=COUNT_IN if top.count_in is None else top.count_in,
        ready=top.ready,
        music=None if document.music is None else _beats(document.music),
    )


def _part(part: WrittenPart, usual_ahead: int | None) -> RoutinePart:
    table = part.table
    ahead = None if table.cue == "" else table.cue_ahead or usual_ahead
    length = Length(table.cycles, table.beats, table.seconds)
    if part.pattern is None:
        return RestPart(
            length=length,
            name=table.name or REST,
            cue=table.cue,
            cue_ahead=ahead,
            count_in=table.count_in,
            bar=table.bar,
        )
    return PatternPart(
        pattern=part.pattern,
        length=length,
        name=table.name or "",
        tempo=table.tempo,
        to=table.to,
        curve=table.curve or "linear-beats",
        throws=None if table.throws is None else ratio(table.throws),
        cue=table.cue,
        cue_ahead=ahead,
        how=table.how or "",
        bridge=None if part.bridge is None else part.bridge.turns,
        change=table.pick_up or (None if table.put_down is None else -table.put_down),
        bar=table.bar,
        last_one=bool(table.last_one),
        first=table.first,
    )


def _beats(music: WrittenMusic) -> MusicBeats:
    throws = music.table.throws
    return MusicBeats(
        music.times,
        BAR if music.table.bar is None else music.table.bar,
        Fraction(1) if throws is None else ratio(throws),
    )
