"""What is played live: a run on the clock of the deck that plays it, and what may be asked of it.

All of it is plain data, which goes from one process to another. The times of the deck's clock are
in seconds since its first frame.

What the process that plays and the one that conducts tell each other, apart from commands.
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
from throwcount.sounds.mixing.score import Balance
from throwcount.sounds.samples import Clip
from throwcount.sounds.voices.voice import Voice, quickest_seconds, said_at

AHEAD: Final = 0.3
"""Seconds between now and the first beat that can still be changed: its word begins before it,
and the change has to get there."""

CONTEXT: Final = 2.0
"""Seconds before a beat in which what is said may bear on how that beat is called."""


@dataclass(frozen=True, slots=True)
class ScheduledRun:
    """A run at its place on a deck's clock."""

    run: Run
    """What is thrown, how fast, and what is said."""
    start: float
    """Where time 0 of the run falls, in seconds of the deck's clock; may be negative where the run
    begins in the middle."""
    balance: Balance = field(default_factory=Balance)
    """What is heard, and how loud."""
    words: frozenset[str] = frozenset()
    """What else is said in the same practice: levels are laid out for these words too, so that all
    runs are equally loud."""
    track: Track | None = None
    """The music under it, its times those of the run; None for none."""

    def timeline(self, voice: Voice, since: int | None = None) -> Timeline:
        """Return its beats with the calls that `voice` is quick enough for, in the run's time.

        `since` is the beat from which on it is wanted, without the cues; the whole if None.
        """
        timeline = self.in_context(voice, since)
        if since is None:
            return timeline
        beats = timeline.beats
        return replace(timeline, beats=lambda: dropwhile(lambda beat: beat.beat < since, beats()))

    def in_context(self, voice: Voice, since: int | None) -> Timeline:
        """Return what `timeline` does, and what may bear on how the beat `since` is called."""
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
        """Return how it goes on at another tempo, from the first beat that can be changed.

        `tempo` is in beats a minute, kept from then on. `now` is what the deck hands out now, on
        its clock. The result is None where no beat is left to be changed.

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
        """Return how it goes on after a silence, with `beat` at a moment of the deck's clock."""
        return Continue(replace(self, start=moment - clock_of(self.run).time_at(beat)), beat)


@dataclass(frozen=True, slots=True)
class Play:
    """Play a run from its beginning, whatever else is being played."""

    scheduled: ScheduledRun


@dataclass(frozen=True, slots=True)
class Continue:
    """Go over to another run on one of its beats."""

    scheduled: ScheduledRun
    """Of which is heard what belongs to `pivot` and the beats after it."""
    pivot: int
    """The beat. Of all that has been played till then, what belongs to earlier moments is heard to
    its end, and nothing else is."""


@dataclass(frozen=True, slots=True)
class Say:
    """Say something at a moment of the deck's clock, whatever else is being played."""

    text: str
    start: float
    balance: Balance = field(default_factory=Balance)


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


Command: TypeAlias = Play | Continue | Say | Silence | SpeakUp | Learn | End


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


@dataclass(frozen=True, slots=True)
class Opening:
    """What is to be opened: the first message to the process that plays."""

    device: str | None
    """The name of an output or an unmistakable part of it; the default output if None."""
    rate: int | None
    """Sample rate in Hz; what the device likes best if None."""
    latency: float
    """Seconds of sound kept ready."""


@dataclass(frozen=True, slots=True)
class Opened:
    """The device plays silence, and the deck's clock runs; its sample rate, in Hz."""

    rate: int


@dataclass(frozen=True, slots=True)
class Refused:
    """There is no such device, or it cannot be opened so; a sentence that says why."""

    reason: str


@dataclass(frozen=True, slots=True)
class PlayerState:
    """The state of the process that plays, told several times a second."""

    moment: float
    """When this was so, in seconds of `time.monotonic`, which is the same in both processes."""
    played: int
    """Frames handed out to the device."""
    heard: tuple[int, float] | None = None
    """A frame that was handed out lately, and the moment when it is heard; None before
    the first."""
    gaps: int = 0
    """How often the device ran out of sound."""
    over: bool = False
    """Whether all is over, the last silence included."""
    fault: str = ""
    """A sentence that says why nothing is played any more; empty as long as all is well."""


ToPlayer: TypeAlias = Opening | Command
