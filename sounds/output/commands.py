"""Runs at their place on a deck's clock, and the commands that a deck obeys.

All of it is plain data that goes from one process to another. The deck's clock counts seconds from
its first frame.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import dropwhile
from typing import Final, TypeAlias

from throwcount.engine.scheduling.scheduler import first_beat_from, nudged, schedule, seconds_of
from throwcount.engine.scheduling.thinning import CYCLES, thin
from throwcount.engine.timing.run import Rest, Run, clock_of
from throwcount.engine.timing.timeline import Timeline
from throwcount.sounds.mixing.music_bed import Track
from throwcount.sounds.mixing.replies import ReplyKind
from throwcount.sounds.mixing.score import Balance
from throwcount.sounds.samples import Clip
from throwcount.sounds.voices.voice import Voice, quickest_seconds, said_at

AHEAD: Final = 0.3
"""Seconds from now to the first beat that can still be changed: the change has to get there, and
the beat's word begins before it."""

CONTEXT: Final = 2.0
"""Seconds before a beat; what is said in them may affect how the beat is called."""


@dataclass(frozen=True, slots=True)
class ScheduledRun:
    """A run at its place on a deck's clock."""

    run: Run
    """What is thrown, how fast, and what is said."""
    start: float
    """Where time 0 of the run falls, in seconds of the deck's clock; it may be negative where the
    run begins in the middle."""
    balance: Balance = field(default_factory=Balance)
    """What is heard, and how loud."""
    words: frozenset[str] = frozenset()
    """What else is said in the same practice. Levels are laid out for these words too, so that all
    runs are equally loud."""
    track: Track | None = None
    """The music under it, its times those of the run; None for none."""

    def timeline(self, voice: Voice, since: int | None = None) -> Timeline:
        """Return the beats, in the run's time, with the calls that `voice` is quick enough for.

        The timeline begins with the beat `since` and has no cues; it is whole if `since` is None.
        """
        timeline = self.in_context(voice, since)
        if since is None:
            return timeline
        beats = timeline.beats
        return replace(timeline, beats=lambda: dropwhile(lambda beat: beat.beat < since, beats()))

    def in_context(self, voice: Voice, since: int | None) -> Timeline:
        """Return the same timeline, from as far back as may affect how `since` is called."""
        beat = None if since is None else _with_context(self.run, since)
        whole = schedule(self.run, beat)
        return thin(replace(whole, words=whole.words | self.words), quickest_seconds(voice))

    def texts(self) -> frozenset[str]:
        """Return all that may be said in it."""
        whole = schedule(self.run)
        return whole.words | self.words | set(map(said_at, whole.cues))

    @property
    def end(self) -> float | None:
        """When it is over, on the deck's clock; None if it never is."""
        seconds = seconds_of(self.run)
        return None if seconds is None else self.start + seconds

    def time_at(self, beat: int) -> float:
        """Return when a beat falls, on the deck's clock."""
        return self.start + clock_of(self.run).time_at(beat)

    def beat_from(self, moment: float) -> int | None:
        """Return the first beat at or after a moment of the deck's clock, None if none is left."""
        return first_beat_from(self.run, moment - self.start)

    def at_tempo(self, tempo: float, now: float) -> "Continue | None":
        """Return how the run goes on at another tempo, from the first beat that can be changed.

        `tempo` is in beats a minute, and stays from then on. `now` is the time on the deck's clock
        that it hands out now. The result is None where no beat is left to be changed.

        Raises
        ------
        TempoError
            If the tempo cannot be kept.
        """
        pivot = self.beat_from(now + AHEAD)
        if pivot is None:
            return None
        nudge = nudged(self.run, pivot, tempo)
        # Music goes on as it is.
        track = None if self.track is None else self.track.later(-nudge.later)
        start = self.start + nudge.later
        return Continue(replace(self, run=nudge.run, start=start, track=track), pivot)

    def resumed(self, beat: int, moment: float) -> "Continue":
        """Return how the run goes on after a silence, with `beat` at a moment of the clock."""
        return Continue(replace(self, start=moment - clock_of(self.run).time_at(beat)), beat)


@dataclass(frozen=True, slots=True)
class Play:
    """Play a run from its beginning, whatever else is being played."""

    scheduled: ScheduledRun


@dataclass(frozen=True, slots=True)
class Begin:
    """Play a run from its beginning as soon as it is worked out, whatever its start says."""

    scheduled: ScheduledRun


@dataclass(frozen=True, slots=True)
class Continue:
    """Go over to another run on one of its beats."""

    scheduled: ScheduledRun
    """The other run. What belongs to `pivot` and to later beats of it is heard."""
    pivot: int
    """The beat. Of what was played before, sounds of earlier moments are heard to their end, and
    no others."""


@dataclass(frozen=True, slots=True)
class Say:
    """Say something at a moment of the deck's clock, whatever else is being played."""

    text: str
    start: float
    balance: Balance = field(default_factory=Balance)


@dataclass(frozen=True, slots=True)
class Reply:
    """Answer a press with its tones at once, whatever else is being played."""

    kind: ReplyKind
    level: float = 0.0
    """In dB against the usual level."""


@dataclass(frozen=True, slots=True)
class Silence:
    """Fade out within 5 ms, and drop what is coming."""


@dataclass(frozen=True, slots=True)
class SpeakUp:
    """Let the words be heard, or not; the clicks and the count of beats go on."""

    on: bool


@dataclass(frozen=True, slots=True)
class Learn:
    """Take in the clips of some texts."""

    clips: Mapping[str, Sequence[Clip]]


@dataclass(frozen=True, slots=True)
class End:
    """Fade out, and end when the last of it has surely been heard."""


Command: TypeAlias = Play | Begin | Continue | Say | Reply | Silence | SpeakUp | Learn | End


def _with_context(run: Run, beat: int) -> int:
    """Return a beat before another from which the same calls are made as from the start."""
    clock = clock_of(run)
    earlier = math.floor(clock.beat_at(clock.time_at(beat) - CONTEXT))
    if earlier < 0:
        return -run.count_in
    first = 0
    for part in run.parts:
        if part.beats is None or earlier < first + part.beats:
            period = 1 if isinstance(part, Rest) else CYCLES * part.pattern.period
            return earlier - (earlier - first) % period
        first += part.beats
    return earlier
