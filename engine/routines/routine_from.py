"""A routine from one of its parts on, to be begun there."""

from collections.abc import Iterator
from dataclasses import replace

from engine.patterns.pattern import Hand, other_hand
from engine.routines.laying_out import LaidOut, LaidPart
from engine.routines.routine import PatternPart, RestPart


def laid_from(laid: LaidOut, number: int) -> LaidOut:
    """Return what is left of a routine from a part on, with that part's first throw as beat 0.

    Parameters
    ----------
    number
        Of the part, from 1; of a rest the pattern after it is the first.

    Raises
    ------
    IndexError
        If there is no such part.
    """
    index = next(place for place, each in enumerate(laid.parts) if each.number == number)
    index += isinstance(laid.parts[index].part, RestPart)
    opening = laid.parts[index]
    kept = [replace(each, beat=each.beat - opening.beat) for each in laid.parts[index:]]
    kept[0] = replace(_begun(laid, opening), beat=0)
    return LaidOut(laid.routine, tuple(kept), laid.tempo.since(opening.beat))


def _begun(laid: LaidOut, opening: LaidPart) -> LaidPart:
    """Return a part as one that opens: with its objects in the hands, and the same hand first."""
    part = opening.part
    if isinstance(part, PatternPart):
        part = replace(part, first=hand_of(laid, opening))
    return replace(opening, part=part, joining=None, change=0)


def hand_of(laid: LaidOut, wanted: LaidPart) -> Hand:
    """Return the hand that begins a part in which the hands alternate."""
    first = laid.routine.first
    begun, hand = 0, first
    for opening in _openings(laid):
        if opening.beat <= wanted.beat and isinstance(opening.part, PatternPart):
            begun, hand = opening.beat, opening.part.first or first
    return other_hand(hand) if (wanted.beat - begun) % 2 else hand


def _openings(laid: LaidOut) -> Iterator[LaidPart]:
    """Yield the parts that open the routine, or follow a rest."""
    yield laid.parts[0]
    for before, each in zip(laid.parts, laid.parts[1:], strict=False):
        if isinstance(before.part, RestPart):
            yield each
