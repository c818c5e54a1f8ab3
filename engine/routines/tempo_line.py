"""The tempo of a routine while it is laid out, part by part: its own, or that of the music."""

from bisect import bisect_right
from collections.abc import Iterator
from fractions import Fraction
from typing import Protocol

from engine.routines.routine import MusicBeats, PatternPart, RoutinePart
from engine.timing.tempo import EXPONENTS, Segment, TempoMap, ramp_beats


class TempoLine(Protocol):
    """Tempo laid out so far, and how it goes on."""

    @property
    def position(self) -> Fraction | None:
        """Beats of the music since its first beat; None without music."""

    def begin(self, part: RoutinePart) -> None:
        """Take over the tempo of a part, for its throws and those that follow it."""

    def beats_in(self, seconds: float) -> float:
        """Return how many beats the part that begins now has in so many seconds."""

    def beats_to(self, position: Fraction) -> Fraction:
        """Return how many throw beats are left until a beat of the music."""

    def lay(self, beats: int, *, moving: bool = False) -> None:
        """Let so many beats pass, with the change of tempo of the part if `moving`."""

    def tempos(self) -> TempoMap:
        """Return all that was laid."""


class OwnTempo:
    """The tempo that the parts give.

    `tempo` is that at the first throw, in beats a minute, unless the first part has its own.
    """

    position = None

    def __init__(self, tempo: float) -> None:
        self._tempo = tempo
        self._part: RoutinePart | None = None
        self._segments: list[Segment] = []

    def begin(self, part: RoutinePart) -> None:
        """Take over the tempo of a part, if it has one."""
        self._part = part
        if isinstance(part, PatternPart) and part.tempo is not None:
            self._tempo = part.tempo

    def beats_in(self, seconds: float) -> float:
        """Return how many beats the part that begins now has in so many seconds."""
        part = self._part
        if isinstance(part, PatternPart) and part.to is not None:
            return ramp_beats(self._tempo, part.to, seconds, part.curve)
        return seconds * self._tempo / 60

    def beats_to(self, position: Fraction) -> Fraction:
        """Return nothing: without music there is no such beat."""
        raise NotImplementedError

    def lay(self, beats: int, *, moving: bool = False) -> None:
        """Let so many beats pass."""
        part, start = self._part, self._tempo
        exponent = 1.0
        if moving and isinstance(part, PatternPart) and part.to is not None:
            self._tempo, exponent = part.to, EXPONENTS[part.curve]
        self._segments.append(Segment(start, self._tempo, beats, exponent))

    def tempos(self) -> TempoMap:
        """Return all that was laid."""
        return TempoMap(tuple(self._segments))


class MusicTempo:
    """The tempo of the music, with so many throws a beat of it.

    `position` is the beat of the music, from 0, that the first throw falls on.
    """

    def __init__(self, music: MusicBeats, position: Fraction) -> None:
        self._music = music
        self._throws = music.throws
        self.position = position
        self._segments: list[Segment] = []

    def begin(self, part: RoutinePart) -> None:
        """Take over the throws a beat of a part, if it has any."""
        if isinstance(part, PatternPart) and part.throws is not None:
            self._throws = part.throws

    def beats_in(self, seconds: float) -> float:
        """Return how many beats the part that begins now has in so many seconds."""
        until = music_beat_at(self._music, music_time(self._music, self.position) + seconds)
        return (until - float(self.position)) * float(self._throws)

    def beats_to(self, position: Fraction) -> Fraction:
        """Return how many throw beats are left until a beat of the music."""
        return (position - self.position) * self._throws

    def lay(self, beats: int, *, moving: bool = False) -> None:  # noqa: ARG002 - the music does not ask
        """Let so many beats pass."""
        end = self.position + beats / self._throws
        self._segments.extend(self._up_to(end))
        self.position = end

    def _up_to(self, end: Fraction) -> Iterator[Segment]:
        """Yield a segment for each stretch of the music of one tempo."""
        here = self.position
        while here < end:
            stretch = _stretch_of(self._music, here)
            until = (
                end if stretch == len(self._music.times) - 2 else min(end, Fraction(stretch + 1))
            )
            earlier, later = self._music.times[stretch : stretch + 2]
            tempo = 60 * float(self._throws) / (later - earlier)
            yield Segment(tempo, tempo, float((until - here) * self._throws))
            here = until

    def tempos(self) -> TempoMap:
        """Return all that was laid."""
        return TempoMap(tuple(self._segments))


def music_time(music: MusicBeats, position: Fraction) -> float:
    """Return when a beat of the music falls, in seconds of the music.

    `position` is in beats since the first; between two beats and outside the list it goes on
    evenly.
    """
    stretch = _stretch_of(music, position)
    earlier, later = music.times[stretch : stretch + 2]
    return earlier + float(position - stretch) * (later - earlier)


def music_beat_at(music: MusicBeats, seconds: float) -> float:
    """Return the beat of the music at a moment: `music_time`, inverted."""
    stretch = min(max(bisect_right(music.times, seconds) - 1, 0), len(music.times) - 2)
    earlier, later = music.times[stretch : stretch + 2]
    return stretch + (seconds - earlier) / (later - earlier)


def _stretch_of(music: MusicBeats, position: Fraction) -> int:
    """Return the interval of the list that a position lies in, or the nearest one."""
    return min(max(position.__floor__(), 0), len(music.times) - 2)
