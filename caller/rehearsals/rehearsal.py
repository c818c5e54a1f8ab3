"""From a pattern and the options to a run, its voice, and its timeline."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import islice
from typing import Final, TypeAlias

import click

from caller.options.shared_options import DEFAULT_EVERY, DEFAULT_STEP, STEPS, Options
from engine.calling.announcement import announcement
from engine.calling.thinning import Spacing, WordSeconds, spacings, thin
from engine.patterns.flight import default_tempo, default_tempo_reason
from engine.patterns.pattern import Pattern
from engine.timing.run import Fading, Part, Run, Wording
from engine.timing.scheduler import schedule
from engine.timing.tempo import EXPONENTS, Curve, TempoMap, ramp, ramp_beats, steady, steps
from engine.timing.timeline import Timeline
from sounds.placing.score import Balance
from sounds.voices.voice import Voice, natural_seconds, quickest_seconds

LookedAt: TypeAlias = Callable[[Timeline, WordSeconds], Iterator[Spacing]]

CHECKED_CYCLES: Final = 1000
"""How many cycles are looked at to tell how far calls thin out, at the tempo of the beginning and
at that of the end: between them the tempo only rises or only falls."""


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """A run that is ready to be heard.

    Parameters
    ----------
    run
        What is thrown, how fast, and what is said.
    timeline
        Its beats, with the calls that can be said.
    tempo_reason
        Why this tempo; empty where the person chose it.
    thinned
        Where the calls are furthest apart; None where every call is said.
    """

    run: Run
    timeline: Timeline
    tempo_reason: str = ""
    thinned: Spacing | None = None


def rehearse(
    pattern: Pattern, options: Options, voice: Voice, ready: float, cycles: int | None
) -> Rehearsal:
    """Return a rehearsal of one pattern.

    Parameters
    ----------
    pattern
        A pattern that can be thrown.
    options
        What the person asked for.
    voice
        Who calls; asked how long words take, and told to get ready for them.
    ready
        Seconds to fill the hands, unless the options say.
    cycles
        How often the pattern is repeated, unless the options say; None without end.

    Raises
    ------
    click.UsageError
        If the tempo is to change over a length that is nowhere given.
    """
    tempo, reason = _start_tempo(pattern, options)
    beats = _beats(pattern, tempo, options, cycles)
    spoken = _announcement(pattern, tempo, options)
    run = Run(
        parts=(Part(pattern, beats),),
        tempo=tempo_map(pattern, tempo, beats, options),
        first=options.first,
        ready=ready if options.ready is None else options.ready,
    )
    run = said_as_asked(run, spoken, options, voice)
    return called(run, voice, reason, _beginning_and_end(run))


def wording_of(options: Options) -> Wording:
    """Return how throws are put in words."""
    return Wording(options.word, options.letters, options.names)


def said_as_asked(run: Run, spoken: str, options: Options, voice: Voice) -> Run:
    """Return a run with its announcement, its count-in and its calls as a person asked for them."""
    return replace(
        run,
        announcement=spoken,
        announcement_seconds=natural_seconds(voice)(spoken) if spoken else 0.0,
        count_in=options.count_in,
        say=options.say,
        wording=wording_of(options),
        lead=options.lead,
        fading=Fading(options.fade, options.fade_clicks),
    )


def balance_from(options: Options) -> Balance:
    """Return what is heard, and how loud."""
    return Balance(options.voice_level, options.click_level, options.clicks, options.tune)


def called(
    run: Run, voice: Voice, tempo_reason: str = "", looked_at: LookedAt = spacings
) -> Rehearsal:
    """Schedule a run with the calls that the voice is quick enough for.

    Parameters
    ----------
    run
        What is thrown and said.
    voice
        Who calls; told to get ready.
    tempo_reason
        Why this tempo, if that is to be told.
    looked_at
        Gives the spacings among which the widest is.
    """
    whole = schedule(run)
    voice.prepare(whole.words)
    quickest = quickest_seconds(voice)
    widest = max(looked_at(whole, quickest), key=lambda spacing: spacing.every)
    thinned = widest if widest.every > 1 else None
    return Rehearsal(run, thin(whole, quickest), tempo_reason, thinned)


def _beginning_and_end(run: Run) -> LookedAt:
    """Look at the cycles at the tempo of the beginning, and at that of the end."""

    def looked_at(whole: Timeline, quickest: WordSeconds) -> Iterator[Spacing]:
        yield from islice(spacings(whole, quickest), CHECKED_CYCLES)
        yield from islice(spacings(schedule(run, _last_tempo(run)), quickest), CHECKED_CYCLES)

    return looked_at


def _last_tempo(run: Run) -> int:
    """Return a beat that opens a cycle, from which on the tempo is about that of the end."""
    part = run.opening
    period = part.pattern.period
    reached = math.ceil(run.tempo.beats / period) * period
    if part.beats is None:
        return reached
    last = (part.beats - 1) // period * period
    return max(0, min(reached, last - (CHECKED_CYCLES - 1) * period))


def _start_tempo(pattern: Pattern, options: Options) -> tuple[float, str]:
    if options.tempo is not None:
        return options.tempo, ""
    return float(default_tempo(pattern)), default_tempo_reason(pattern)


def _announcement(pattern: Pattern, tempo: float, options: Options) -> str:
    if not options.announce or options.say == "nothing":
        return ""
    return announcement(pattern, tempo, options.first, wording_of(options))


def _beats(pattern: Pattern, tempo: float, options: Options, cycles: int | None) -> int | None:
    """Return how many beats the throws go on for, whole pairs where the hands throw together."""
    if options.beats is not None:
        return options.beats + options.beats % pattern.beats_per_turn
    if options.seconds is not None:
        beats = _beats_in(options.seconds, pattern, tempo, options)
        return beats + beats % pattern.beats_per_turn
    cycles = cycles if options.cycles is None else options.cycles
    return None if cycles is None else cycles * pattern.period


def _beats_in(seconds: float, pattern: Pattern, tempo: float, options: Options) -> int:
    if options.to is not None and options.curve != STEPS:
        return ramp_beats(tempo, options.to, seconds, _curve(options))
    tempos = steady(tempo) if options.to is None else _steps(pattern, tempo, options)
    return max(1, round(tempos.beat_at(seconds)))


def tempo_map(pattern: Pattern, tempo: float, beats: int | None, options: Options) -> TempoMap:
    """Return the tempo map of a run that begins at `tempo` and has `beats` beats of throws.

    Raises
    ------
    click.UsageError
        If the tempo is to change over a length that is nowhere given.
    """
    if options.to is None:
        return steady(tempo)
    if options.curve == STEPS:
        return _steps(pattern, tempo, options)
    if beats is None:
        raise click.UsageError(
            "--to changes the tempo over a length; give it with --cycles, --beats or --seconds, "
            "or raise it in steps with --curve steps."
        )
    return ramp(tempo, options.to, beats, _curve(options))


def _steps(pattern: Pattern, tempo: float, options: Options) -> TempoMap:
    to = tempo if options.to is None else options.to
    every = options.every or DEFAULT_EVERY
    return steps(tempo, to, options.step or DEFAULT_STEP, every * pattern.period)


def _curve(options: Options) -> Curve:
    return next((curve for curve in EXPONENTS if curve == options.curve), "linear-beats")
