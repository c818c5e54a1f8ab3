"""What there is to see at one moment, as plain data."""

from collections.abc import Iterator
from dataclasses import dataclass

from caller.console.terminal import length_told
from engine.patterns.flight import height
from engine.patterns.pattern import VALUE_DIGITS
from engine.timing.timeline import Beat


@dataclass(frozen=True, slots=True, kw_only=True)
class Glance:
    """What a person may see at one moment."""

    beat: Beat | None = None
    """The one that is heard, the last with something to show: of a pair, the one it is thrown on.
    None before the first."""
    coming: tuple[Beat, ...] = ()
    """The beats after it, a few of them."""
    place: str = ""
    """Where in the practice this is, such as "set 2 of 5"; empty where it has one part."""
    cycles: int | None = None
    """How many cycles the part has; None without end."""
    following: str = ""
    """What comes after this part, and when, such as "51 in 12 beats"; empty where nothing does."""
    seconds_to_throw: int | None = None
    """Until the first throw, while hands are filled; None after it."""
    hands: str = ""
    """What to begin with, such as "right 2, left 1"; empty once that is past."""
    seconds_left: int | None = None
    """Until the end; None without end."""
    clean: int | None = None
    """Marks for clean sets; None where no marks are taken."""
    drops: int | None = None
    """Marks for drops; None where no marks are taken."""
    large: str = ""
    """A word or a time to show large in place of throws, such as "rest" or "0:25"."""
    notice: str = ""
    """A sentence that matters now."""
    legend: tuple[tuple[str, str], ...] = ()
    """Keys and what they ask for; see `caller.playing.controls.legend`."""


def has_throws(beat: Beat) -> bool:
    """Return whether some hand has its turn on a beat."""
    return bool(beat.throws.right or beat.throws.left)


def is_shown(beat: Beat) -> bool:
    """Return whether a beat brings something to see: all but the second one of a pair."""
    return beat.cycle is None or has_throws(beat)


def notation(beat: Beat) -> str:
    """Return the throws of a beat as a pattern has them."""
    left, right = at_once(beat.throws.left), at_once(beat.throws.right)
    return f"({left},{right})" if left and right else left or right


def title(glance: Glance) -> str:
    """Return the name of the part that is thrown, or of the one that comes."""
    beats = ([glance.beat] if glance.beat else []) + list(glance.coming)
    return next((beat.part for beat in beats if beat.cycle is not None), "")


def how(glance: Glance) -> str:
    """Return how the throws of this part are made, in words; empty where that is not said."""
    return "" if glance.beat is None else glance.beat.how


def getting_ready(glance: Glance) -> str:
    """Return how long there is for filling the hands, and with what; empty after that."""
    if glance.seconds_to_throw is None:
        return ""
    first = f"first throw in {length_told(glance.seconds_to_throw)}"
    return f"{first}   in hand: {glance.hands}" if glance.hands else first


def heights(glance: Glance) -> Iterator[tuple[str, float]]:
    """Yield the throws of this part that fly, the highest first, and how high, in metres."""
    beats = ([glance.beat] if glance.beat else []) + list(glance.coming)
    part = title(glance)
    kinds = {
        (VALUE_DIGITS.index(throw[0]), throw == "2x")  # a crossing changes no other height
        for beat in beats
        if beat.part == part and beat.cycle is not None
        for throw in (*beat.throws.right, *beat.throws.left)
    }
    for value, crossed in sorted(kinds, reverse=True):
        metres = height(value, beats[0].tempo, crossed=crossed)
        if metres is not None:
            yield VALUE_DIGITS[value] + ("x" if crossed else ""), metres


def at_once(throws: tuple[str, ...]) -> str:
    """Return what one hand throws on a beat, as a pattern has it; empty for nothing."""
    return throws[0] if len(throws) == 1 else f"[{''.join(throws)}]" if throws else ""
