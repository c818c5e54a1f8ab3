"""What a cue call says where the author of a routine left it open."""

from collections.abc import Iterator

from engine.calling.announcement import pattern_words
from engine.calling.numbers import spoken
from engine.calling.stock_phrases import NEXT
from engine.routines.routine import PatternPart, RoutinePart
from engine.timing.run import Wording


def cue_texts(part: RoutinePart, change: int, wording: Wording) -> Iterator[str]:
    """Yield what may be said before a part, the fullest first.

    `part` is what comes. Its own cue is all there is, if it has one that is not empty. `change` is
    how many objects are taken up (more than 0) or put down (less than 0) on the way into it.
    """
    if part.cue is not None:
        yield from [part.cue] if part.cue else []
        return
    if not isinstance(part, PatternPart):
        yield part.name
        return
    moved = _moved(change)
    throws = pattern_words(part.pattern, wording)
    names = [part.name, throws] if part.name else [throws]
    for name in names:
        for how in [part.how, ""] if part.how else [""]:
            yield ", ".join(filter(None, [f"{NEXT} {name}", how, moved]))


def _moved(change: int) -> str:
    if change > 0:
        return f"pick up {spoken(change)}"
    return f"{spoken(-change)} down" if change else ""
