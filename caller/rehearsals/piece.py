"""A piece: a pattern or a routine as it is heard, live or in a file."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from typing import Final

from caller.options.request import Request
from engine.calling.thinning import Spacing, spacings, thin
from engine.routines.chapters import Chapter, chapters_of
from engine.routines.routine import CuePlace
from engine.timing.run import Fading, Run, Wording
from engine.timing.scheduler import schedule
from engine.timing.timeline import Timeline
from sounds.music.music import Track
from sounds.placing.mixer import Mixer
from sounds.placing.score import Balance, mix
from sounds.voices.voice import CallingVoice, Voice, natural_seconds, quickest_seconds

DEFAULT_RATE: Final = 48_000
"""Sample rate of a file, in Hz."""

AGAIN_READY: Final = 3.0
"""Seconds for filling the hands before what was asked for while it plays, or goes on."""

CHECKED_CYCLES: Final = 1000
"""How many cycles are looked at to tell how far calls thin out, at the tempo of the beginning and
at that of the end: between them the tempo only rises or only falls."""


@dataclass(frozen=True)
class Piece:
    """A pattern or a routine, or what is left of one, ready to be heard.

    What takes a walk through its beats is found when it is first asked for, and kept: a part that
    is begun again while hands are full costs no more than its run.
    """

    title: str
    """Of the pattern or the routine."""

    run: Run
    """What is thrown, how fast, and what is said."""

    voice: CallingVoice
    """Who speaks."""

    balance: Balance
    """What is heard, and how loud."""

    tempo_reason: str = ""
    """Why this tempo; empty where the person or the routine chose it."""

    track: Track | None = None
    """The music under it; None without any."""

    part_numbers: tuple[int, ...] = ()
    """Of a routine, for each part of the run the number it has there, or that of the part it
    leads to."""

    @cached_property
    def timeline(self) -> Timeline:
        """Its beats, with the calls that the voice is quick enough for."""
        return thin(self._whole, quickest_seconds(self.voice))

    @cached_property
    def thinned(self) -> Spacing | None:
        """Where the calls are furthest apart; None where every call is said."""
        widest = max(self._spacings(), key=lambda spacing: spacing.every)
        return widest if widest.every > 1 else None

    @cached_property
    def chapters(self) -> tuple[Chapter, ...]:
        """What comes when, in a piece that ends."""
        return tuple(chapters_of(self.run))

    @property
    def seconds(self) -> float:
        """Its length; 0 if it never ends."""
        return self.timeline.seconds or 0.0

    def sound(self, seconds: float | None = None) -> Mixer:
        """Return it as sound, so many seconds of it if it never ends."""
        timeline = self.timeline
        if timeline.seconds is None:
            timeline = replace(timeline, seconds=seconds)
        return mix(timeline, self.voice, self.voice.rate, self.balance, self.track)

    @cached_property
    def _whole(self) -> Timeline:
        """Its beats with every call, for which the voice has got ready."""
        whole = schedule(self.run)
        self.voice.prepare(whole.words)
        return whole

    def _spacings(self) -> Iterator[Spacing]:
        """Yield the spacings among which the widest is."""
        whole, quickest = self._whole, quickest_seconds(self.voice)
        if self.part_numbers:
            yield from spacings(whole, quickest)
            return
        ending = schedule(self.run, _last_tempo(self.run))
        yield from islice(spacings(whole, quickest), CHECKED_CYCLES)
        yield from islice(spacings(ending, quickest), CHECKED_CYCLES)


def _last_tempo(run: Run) -> int:
    """Return a beat that opens a cycle, from which on the tempo is about that of the end."""
    part = run.opening
    period = part.pattern.period
    reached = math.ceil(run.tempo.beats / period) * period
    if part.beats is None:
        return reached
    last = (part.beats - 1) // period * period
    return max(0, min(reached, last - (CHECKED_CYCLES - 1) * period))


def wording_of(request: Request) -> Wording:
    """Return how throws are put in words."""
    return Wording(request.word, request.letters, request.names)


def said_as_asked(run: Run, spoken: str, request: Request, voice: Voice) -> Run:
    """Return a run with its announcement, its count-in and its calls as a person asked for them."""
    return replace(
        run,
        announcement=spoken,
        announcement_seconds=natural_seconds(voice)(spoken) if spoken else 0.0,
        count_in=request.count_in,
        say=request.say,
        wording=wording_of(request),
        lead=request.lead,
        fading=Fading(request.fade, request.fade_clicks),
    )


def balance_from(request: Request, cue_place: CuePlace | None = None) -> Balance:
    """Return what is heard, and how loud, with cue calls in the centre unless they have a place."""
    return Balance(
        request.voice_level,
        request.click_level,
        request.clicks,
        request.tune,
        cue_place or "centre",
    )
