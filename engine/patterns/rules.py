"""Whether a pattern can be thrown, and why not.

A pattern can be thrown if on every beat each hand throws as many objects as land in it. The
landings of an alternating pattern without multiplex are then all different (Chung & Graham,
Primitive juggling sequences, Amer. Math. Monthly 115 (2008) 185-194), and the mean throw value
is the number of objects. Messages name the first beat, counting from 0, at which it goes wrong.
"""

import math
from collections import Counter
from dataclasses import dataclass
from typing import Final

from throwcount.engine.errors import AverageError, CollisionError, PatternError
from throwcount.engine.numbers import spoken
from throwcount.engine.patterns.notation import parse
from throwcount.engine.patterns.pattern import Pattern, Site, Throw, Throws

LISTED_THROWS: Final = 4
"""Throws that a message names, at most."""


@dataclass(frozen=True, slots=True)
class Meeting:
    """More objects landing than are thrown on."""

    site: Site
    """Where they land: a turn, counted over repetitions, and a place in it."""
    landing: tuple[tuple[Site, Throw], ...]
    """The throws that land there, each with the site that it is made at, in order of time."""
    thrown: Throws
    """What is thrown from there."""


def read(text: str) -> Pattern:
    """Return the pattern written in `text`, or named by it, if it can be thrown.

    A text that can be read as throws is; else it may be a name of the trade, such as "5 cascade".

    Raises
    ------
    MalformedError
        If the text is neither in the notation nor a name.
    AverageError, CollisionError
        If the pattern cannot be thrown.
    """
    try:
        return read_throws(text)
    except PatternError as error:
        # Most texts are patterns, and need neither.
        from throwcount.engine.patterns.names import pattern_named  # noqa: PLC0415
        from throwcount.engine.patterns.slips import suggestion  # noqa: PLC0415

        named = pattern_named(text)
        if named is None:
            raise type(error)(error.message + suggestion(text), error.at) from None
        return named


def read_throws(text: str) -> Pattern:
    """Return the pattern written in `text` in notation; errors as of `read`."""
    pattern = parse(text)
    check(pattern)
    return pattern


def check(pattern: Pattern) -> None:
    """Raise an error if `pattern` cannot be thrown.

    Raises
    ------
    AverageError
        If the mean throw value is not whole, whatever else is wrong.
    CollisionError
        If more objects land somewhere than are thrown there.
    """
    meeting = first_meeting(pattern)
    if meeting is None:
        return
    at = _beats_involved(pattern, meeting)
    text = f"Counting beats from 0, {_meeting_text(pattern, meeting)}."
    if pattern.total % pattern.period:
        raise AverageError(f"{_mean_text(pattern)} {text}", at)
    raise CollisionError(text + _shortage(pattern), at)


def first_meeting(pattern: Pattern) -> Meeting | None:
    """Return the first site, from beat 0, at which more objects land than are thrown, if any.

    Of two at once, that of the left hand comes first.
    """
    landing: dict[Site, list[tuple[Site, Throw]]] = {}
    # After the longest flight as many objects land as ever will, so one more period is enough.
    turns = len(pattern.turns) + pattern.highest // pattern.beats_per_turn
    for turn in range(turns):
        for place, throws in enumerate(pattern.turns[turn % len(pattern.turns)]):
            site = turn, place
            landed = landing.pop(site, [])
            if len(landed) > len(throws):
                return Meeting(site, tuple(landed), throws)
            for throw in throws:
                landing.setdefault(pattern.landing(site, throw), []).append((site, throw))
    return None


def _beats_involved(pattern: Pattern, meeting: Meeting) -> tuple[int, ...]:
    turns = {turn for (turn, _), _ in meeting.landing}
    if not meeting.thrown:
        turns.add(meeting.site[0])
    return tuple(sorted({turn * pattern.beats_per_turn % pattern.period for turn in turns}))


def _meeting_text(pattern: Pattern, meeting: Meeting) -> str:
    several = len(meeting.landing) > 1
    throws = _listed(_throw_names(pattern, meeting))
    where = _where(pattern, meeting.site)
    if not meeting.thrown:
        return f"{throws} {'land' if several else 'lands'} {where}, where nothing is thrown"
    if len(meeting.thrown) == 1:
        return f"{throws} meet {where}, where only one object is thrown"
    landing, thrown = spoken(len(meeting.landing)), spoken(len(meeting.thrown))
    return f"{throws} land {where}: {landing} objects, where the multiplex throws only {thrown}"


def _throw_names(pattern: Pattern, meeting: Meeting) -> list[str]:
    """Return the throws that land in words, such as "the 5 of beat 0" or "three 4s of beat 2"."""
    names = []
    for ((turn, place), throw), count in Counter(meeting.landing).items():
        which = f"the {throw}" if count == 1 else f"{spoken(count)} {throw}s"
        hand = f" from the {pattern.hand(turn, place)} hand" if pattern.kind == "sync" else ""
        names.append(f"{which} of beat {turn * pattern.beats_per_turn}{hand}")
    return names


def _listed(names: list[str]) -> str:
    if len(names) > LISTED_THROWS:
        names = [*names[: LISTED_THROWS - 1], f"{len(names) - LISTED_THROWS + 1} more"]
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)


def _where(pattern: Pattern, site: Site) -> str:
    turn, place = site
    return f"on beat {turn * pattern.beats_per_turn} in the {pattern.hand(turn, place)} hand"


EXACT: Final = 1e-12
"""Relative error of a mean in six digits up to which these are all of its digits."""


def _mean_text(pattern: Pattern) -> str:
    total, beats = pattern.total, pattern.period
    text = f"{total / beats:g}"
    if not math.isclose(float(text) * beats, total, rel_tol=EXACT):
        shared = math.gcd(total, beats)
        text = f"{total // shared}/{beats // shared}, about {text}"
    return (
        f"The values add up to {pattern.total} over {pattern.period} beats: a mean of {text}, "
        "and the number of objects must be whole."
    )


def _shortage(pattern: Pattern) -> str:
    """Return a sentence on the first multiplex that throws more than lands in it, or nothing."""
    turns = len(pattern.turns)
    landed: Counter[Site] = Counter()
    for site, throw in pattern.throws():
        turn, place = pattern.landing(site, throw)
        landed[turn % turns, place] += 1
    for turn, places in enumerate(pattern.turns):
        for place, throws in enumerate(places):
            lands = landed[turn, place]
            if len(throws) > max(lands, 1):
                where = _where(pattern, (turn, place))
                fewer = f"only {spoken(lands)} can land" if lands else "nothing lands"
                return f" The multiplex {where} throws {spoken(len(throws))}: {fewer} there."
    return ""
