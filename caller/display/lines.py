"""A glance in plain lines, one after another, for terminals that only write on and for files."""

from typing import Final

from caller.console.terminal import shortened
from caller.display.glance import Glance, at_once, getting_ready, has_throws, title
from engine.timing.timeline import Beat

BETWEEN_LINES: Final = 1.0
"""Seconds of what is heard between two cycles that are told, at least: short ones are many."""


class LineWriter:
    """Knows which glances are worth a line: news, and the beginning of cycles."""

    def __init__(self) -> None:
        self._told: tuple[object, ...] = ()
        self._notice = ""
        self._cycle: tuple[str, int | None] = ("", None)
        self._time = -BETWEEN_LINES

    def line(self, glance: Glance) -> str | None:
        """Return a line for `glance`; None where it has nothing new."""
        beat = glance.beat
        said = (glance.large, glance.notice, glance.place, glance.clean, glance.drops)
        news = (*said, title(glance), _phase(beat))
        cycle = ("", None) if beat is None else (beat.part, beat.cycle)
        time = 0.0 if beat is None else beat.time
        begins = cycle != self._cycle and time - self._time >= BETWEEN_LINES
        self._cycle = cycle
        if news == self._told and not begins:
            return None
        self._told, self._time = news, time
        notice = "" if glance.notice == self._notice else glance.notice
        self._notice = glance.notice
        return _line(glance, notice) or None


def _phase(beat: Beat | None) -> str:
    if beat is None:
        return "ready"
    return beat.part if beat.cycle is None else "throws"


def _line(glance: Glance, notice: str) -> str:
    """Return a glance as a line, with a notice that has not been told yet."""
    marks = ""
    if glance.clean or glance.drops:
        marks = f"clean {glance.clean or 0}, drops {glance.drops or 0}"
    following = f"next: {glance.following}" if glance.following else ""
    said = (glance.place, notice, glance.large, _happening(glance), following, marks)
    return "; ".join(filter(None, said))


def _happening(glance: Glance) -> str:
    beat = glance.beat
    name = shortened(title(glance))
    if glance.large:
        return name
    if beat is None:
        if glance.seconds_to_throw is None:
            return name
        return f"{name}: {getting_ready(glance)}"
    if beat.cycle is None:
        return f"{beat.part}, {beat.tempo:.0f} a minute"
    of_all = "" if glance.cycles is None else f" of {glance.cycles}"
    cycle = f"cycle {(beat.cycle or 0) + 1}{of_all}, {beat.tempo:.0f} a minute"
    return f"{name}: {cycle}: {_throws_left(glance)}"


def _throws_left(glance: Glance) -> str:
    """Return the throws from now to the end of the cycle, as far as they are known."""
    beats = [beat for beat in (glance.beat, *glance.coming) if beat is not None]
    same = [beat for beat in beats if (beat.part, beat.cycle) == (beats[0].part, beats[0].cycle)]
    return ", ".join(_hands(beat) for beat in same if has_throws(beat))


def _hands(beat: Beat) -> str:
    named = (("left", beat.throws.left), ("right", beat.throws.right))
    return " and ".join(f"{hand} {at_once(thrown)}" for hand, thrown in named if thrown)
