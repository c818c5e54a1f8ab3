"""From a routine that is laid out to a run: parts, cue texts, the start of the music.

A routine can also begin at one of its later parts (`laid_from`).
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Final, TypeAlias

from throwcount.engine.numbers import spoken
from throwcount.engine.routines.joining import Joining
from throwcount.engine.routines.layout import LaidOut, LaidPart
from throwcount.engine.routines.routine import PatternPart, RestPart, RoutinePart, music_time
from throwcount.engine.scheduling.calls import NEXT, pattern_words, throws_words
from throwcount.engine.scheduling.cues import at_ease
from throwcount.engine.search.timing_change import TimingChange
from throwcount.engine.timing.manners import Manner, narrowest_first
from throwcount.engine.timing.run import CueText, HandChange, Part, Rest, Run, Wording, clock_of
from throwcount.engine.timing.timeline import REST


def cue_texts(part: RoutinePart, change: int, wording: Wording) -> Iterator[str]:
    """Yield what may be said before a part, the fullest text first.

    A cue that the author gave comes first; if it is empty, nothing is yielded. `change` is how many
    objects are taken up (more than 0) or put down (less than 0) on the way into the part.
    """
    if part.cue is not None:
        if not part.cue:
            return
        yield part.cue
    if not isinstance(part, PatternPart):
        yield from dict.fromkeys([part.name, REST])
        return
    moved = _moved(change)
    throws = pattern_words(part.pattern, wording)
    names = [part.name, throws] if part.name else [throws]
    singly = (_manner_words(manner, wording) for manner in part.manners)
    hows = dict.fromkeys([", ".join(filter(None, [part.how, *singly])), part.how, ""])
    for name in names:
        for how in hows:
            yield ", ".join(filter(None, [f"{NEXT} {name}", how, moved]))


def _manner_words(manner: Manner, wording: Wording) -> str:
    """Return a manner as it is said, such as "second five under the leg"."""
    throws = throws_words(tuple(each for each in manner.throw.throws if each.value), wording)
    return " ".join(filter(None, [manner.throw.which, throws, manner.how]))


def _moved(change: int) -> str:
    if change > 0:
        return f"pick up {spoken(change)}"
    return f"{spoken(-change)} down" if change else ""


LAST_CYCLE: Final = "last one"

Paces: TypeAlias = Callable[[str], tuple[float, ...]]
"""The seconds that a text takes at each pace of the voice, the slowest first."""

Says: TypeAlias = Callable[[str], bool]
"""Whether the voice can say a text."""


def run_parts(laid: LaidOut) -> Iterator[tuple[int, Part | Rest]]:
    """Yield the parts, the throws between them, and the rests, each with the number of its part."""
    for before, each in zip([None, *laid.parts], laid.parts, strict=False):
        part = each.part
        if isinstance(part, RestPart):
            yield each.number, Rest(each.beats, part.title, _count_in(laid, part))
            continue
        joining = each.joining
        change = None
        if before is not None and joining is not None:
            halves = list(_bridge(before, each, joining))
            yield from ((each.number, half) for half in halves)
            if joining.change is not None and not joining.change.turns:
                change = hand_change(joining.change, joining.change.start)
        yield each.number, replace(_part(part, each), hand_change=change)


def _part(part: PatternPart, laid: LaidPart) -> Part:
    return Part(
        pattern=part.pattern,
        beats=laid.beats,
        name=part.title,
        how=part.how_told,
        manners=narrowest_first(part.manners),
        last_cycle=LAST_CYCLE if part.last_one else "",
        first=laid.first,
    )


def _count_in(laid: LaidOut, rest: RestPart) -> int:
    return laid.routine.count_in if rest.count_in is None else rest.count_in


def _bridge(before: LaidPart, after: LaidPart, joining: Joining) -> Iterator[Part]:
    """Yield the throws between two parts: none, one row of them, or one for each timing."""
    change = joining.change
    kept = joining.kept
    for half in joining.halves:
        begins = half.kind != joining.kind
        start = change.start if change is not None and begins else 0
        end = change.start if change is not None and not begins else joining.beats
        part = Part(
            pattern=half,
            beats=end - start,
            name=bridge_title(before, after),
            leads=True,
            taken_up=joining.taken_up,
            put_down=joining.put_down,
            into_pairs=change is not None and change.first is None and not begins,
        )
        if kept is not None and start <= kept[0] < end:
            turn, odd = divmod(kept[0] - start, half.beats_per_turn)
            place = kept[1] if half.kind == "sync" else 0
            part = replace(part, kept=() if odd else ((turn, place),))
        if change is not None and begins:
            part = replace(part, first=change.first, hand_change=hand_change(change, start))
        yield part


def hand_change(change: TimingChange, start: int) -> HandChange:
    """Return the hand that waits or hurries, for the part from beat `start` of a bridge on."""
    return HandChange(change.hand, change.how, change.beat - start)


def bridge_title(before: LaidPart, after: LaidPart) -> str:
    """Return the title of the throws between two parts."""
    return f"{before.part.title} to {after.part.title}"


def cue_words(
    laid: LaidOut, wording: Wording, paces: Paces, says: Says, ahead: int | None = None
) -> Iterator[CueText]:
    """Yield what is said before each change, in the fullest words that the voice can say.

    `ahead` is how many beats before the change a cue begins, unless its part says otherwise; as
    late as it fits if None.
    """
    for before, each in zip(laid.parts, laid.parts[1:], strict=False):
        texts = list(cue_texts(each.part, each.change, wording))
        if not texts:
            continue
        text, *shorter = [text for text in texts if says(text)] or texts[-1:]
        own = each.part.cue_ahead
        yield CueText(
            change=each.change_beat,
            text=text,
            paces=paces(text),
            shorter={text: paces(text) for text in shorter},
            unsayable=(each.part.cue or "") if text != each.part.cue else "",
            since=before.beat,
            over=_over(laid, before, each),
            last_cycle=_last_cycle(before),
            ahead=ahead if own is None else own,
        )


SAYS_LITTLE: Final = frozenset({"a", "an", "the", "with"})
"""Words that cannot stand for a manner."""


def in_short(how: str) -> str:
    """Return the word that stands for a manner where there is no time for all of it: the first."""
    words = how.replace(",", " ").split()
    return next((word for word in words if word.lower() not in SAYS_LITTLE), how)


def with_calls(manners: Iterable[Manner], paces: Paces, says: Says) -> Iterator[Manner]:
    """Yield manners with what is called, in the fullest words that the voice can say, if any."""
    for manner in manners:
        call, *fewer = [
            text for text in dict.fromkeys([manner.how, in_short(manner.how)]) if says(text)
        ] or [""]
        seconds = at_ease(call, paces(call))[-1] if fewer else 0.0
        yield replace(
            manner,
            call=call,
            shorter="".join(fewer),
            seconds=seconds,
            unsayable=call != manner.how,
        )


def _over(laid: LaidOut, before: LaidPart, each: LaidPart) -> int:
    """Return the beat by which a cue is over: that of "stop", of the count-in, or of the change."""
    if isinstance(before.part, RestPart):
        return max(before.beat + 1, each.beat - _count_in(laid, before.part))
    if isinstance(each.part, RestPart):
        return each.beat - before.part.pattern.beats_per_turn
    if each.joining is not None and each.joining.change is not None:
        told = hand_change(each.joining.change, 0).told
        return each.change_beat + min(told, 0)
    return each.change_beat


def _last_cycle(before: LaidPart) -> int | None:
    """Return the beat on which the last cycle of a part is called; None if it is not."""
    part = before.part
    if not isinstance(part, PatternPart) or not part.last_one:
        return None
    since = before.beats - part.pattern.period
    return before.beat + since if since > 0 else None


def music_begins(laid: LaidOut, run: Run) -> float | None:
    """Return when the first sample of the music falls, in seconds of the run.

    The result is less than 0 if the music begins before the run, and None without music.
    """
    position = laid.parts[0].position
    if laid.routine.music is None or position is None:
        return None
    return clock_of(run).time_at(0) - music_time(laid.routine.music, position)


def laid_from(laid: LaidOut, number: int) -> LaidOut:
    """Return the rest of a routine from a part on, with that part's first throw as beat 0.

    `number` is that of the part, from 1. Instead of a rest, the pattern after it comes first.

    Raises
    ------
    IndexError
        If there is no such part.
    """
    index = next(place for place, each in enumerate(laid.parts) if each.number == number)
    index += isinstance(laid.parts[index].part, RestPart)
    opening = laid.parts[index]
    kept = [replace(each, beat=each.beat - opening.beat) for each in laid.parts[index:]]
    kept[0] = replace(_begun(opening), beat=0)
    return LaidOut(laid.routine, tuple(kept), laid.tempo.since(opening.beat))


def laid_until(laid: LaidOut, number: int) -> LaidOut:
    """Return the beginning of a routine, up to the end of the part with a number, from 1.

    If that is a rest, it ends before it.
    """
    kept = [each for each in laid.parts if each.number <= number]
    while isinstance(kept[-1].part, RestPart):
        kept.pop()
    return replace(laid, parts=tuple(kept))


def _begun(opening: LaidPart) -> LaidPart:
    """Return a part as an opening one: its objects in the hands, and the same hand first."""
    part = opening.part
    if isinstance(part, PatternPart):
        part = replace(part, first=opening.first)
    return replace(opening, part=part, joining=None, change=0)
