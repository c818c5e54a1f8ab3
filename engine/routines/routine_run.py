"""A routine that is laid out becomes a run: its parts, its cue calls, and where music begins."""

from collections.abc import Callable, Iterator
from typing import Final, TypeAlias

from engine.calling.cue_texts import cue_texts
from engine.patterns.pattern import Pattern
from engine.routines.joining import Joining
from engine.routines.laying_out import LaidOut, LaidPart
from engine.routines.routine import PatternPart, RestPart
from engine.routines.tempo_line import music_time
from engine.timing.clock import clock_of
from engine.timing.run import CueText, Part, Rest, Run, Wording

LAST_CYCLE: Final = "last one"

Paces: TypeAlias = Callable[[str], tuple[float, ...]]
"""The seconds that a text takes at each pace of the voice, the slowest first."""

Says: TypeAlias = Callable[[str], bool]
"""Whether the voice can say a text in words."""


def run_parts(laid: LaidOut) -> Iterator[tuple[int, Part | Rest]]:
    """Yield the parts, the throws between them, and the rests, each with the number of its part."""
    for before, each in zip([None, *laid.parts], laid.parts, strict=False):
        part = each.part
        if isinstance(part, RestPart):
            yield each.number, Rest(each.beats, part.title, _count_in(laid, part))
            continue
        if before is not None and each.joining is not None and each.joining.turns:
            yield each.number, _bridge(before, each, each.joining)
        yield each.number, _part(part, each.beats)


def _part(part: PatternPart, beats: int) -> Part:
    return Part(
        pattern=part.pattern,
        beats=beats,
        name=part.title,
        how=part.how,
        last_cycle=LAST_CYCLE if part.last_one else "",
        first=part.first,
    )


def _count_in(laid: LaidOut, rest: RestPart) -> int:
    return laid.routine.count_in if rest.count_in is None else rest.count_in


def _bridge(before: LaidPart, after: LaidPart, joining: Joining) -> Part:
    return Part(
        pattern=Pattern(joining.text, joining.kind, joining.turns),
        beats=joining.beats,
        name=bridge_title(before, after),
        leads=True,
        taken_up=joining.taken_up,
        put_down=joining.put_down,
    )


def bridge_title(before: LaidPart, after: LaidPart) -> str:
    """Return what the throws between two parts are called."""
    return f"{before.part.title} to {after.part.title}"


def cue_words(
    laid: LaidOut, wording: Wording, paces: Paces, says: Says, ahead: int | None = None
) -> Iterator[CueText]:
    """Yield what is said before each change, in the fullest words that the voice can say.

    `paces` tells how long texts take, and `says` which of them can be said. `ahead` is how many
    beats before the change a cue begins, unless its part says; as late as it fits if None.
    """
    for before, each in zip(laid.parts, laid.parts[1:], strict=False):
        texts = list(cue_texts(each.part, each.change, wording))
        text = next((text for text in texts if says(text)), texts[-1] if texts else "")
        if not text:
            continue
        own = each.part.cue_ahead
        yield CueText(
            change=each.change_beat,
            text=text,
            paces=paces(text),
            since=before.beat,
            over=_over(laid, before, each),
            last_cycle=_last_cycle(before),
            ahead=ahead if own is None else own,
        )


def _over(laid: LaidOut, before: LaidPart, each: LaidPart) -> int:
    """Return the beat by which a cue call is over: that of "stop", or of the count-in."""
    if isinstance(before.part, RestPart):
        return max(before.beat + 1, each.beat - _count_in(laid, before.part))
    if isinstance(each.part, RestPart):
        return each.beat - before.part.pattern.beats_per_turn
    return each.change_beat


def _last_cycle(before: LaidPart) -> int | None:
    """Return the beat on which the last cycle of a part is called; None where it is not."""
    part = before.part
    if not isinstance(part, PatternPart) or not part.last_one:
        return None
    since = before.beats - part.pattern.period
    return before.beat + since if since > 0 else None


def music_begins(laid: LaidOut, run: Run) -> float | None:
    """Return when the first sample of the music falls, in seconds of the run.

    The result is less than 0 where the music began before; None without music.
    """
    position = laid.parts[0].position
    if laid.routine.music is None or position is None:
        return None
    return clock_of(run).time_at(0) - music_time(laid.routine.music, position)
