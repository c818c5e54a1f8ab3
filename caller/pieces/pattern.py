"""A pattern and a request become a piece."""

import math
from typing import Final

import click

from throwcount.caller.options.request import DEFAULT_EVERY, DEFAULT_STEP, STEPS, Request
from throwcount.caller.pieces.piece import Piece, balance_from, said_as_asked, wording_of
from throwcount.engine.patterns.flight import (
    default_tempo,
    default_tempo_reason,
    highest_flying,
    tempo_warnings,
)
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.scheduling.calls import announcement
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import (
    EXPONENTS,
    Curve,
    TempoMap,
    held_tempo,
    ramp,
    ramp_beats,
    steady,
    steps,
)
from throwcount.sounds.voices.voice import CallingVoice

CYCLES_A_SET: Final = 16
"""The length of a set in a practice of several sets, unless another is given."""


def pattern_piece(
    pattern: Pattern, request: Request, voice: CallingVoice, cycles: int | None
) -> Piece:
    """Return the piece for a pattern that can be thrown.

    `cycles` is how often the pattern is repeated, unless the request tells; None without end.

    Raises
    ------
    click.UsageError
        If the tempo is to change over a length that is not given.
    """
    tempo, reason = _start_tempo(pattern, request)
    beats = _beats(pattern, tempo, request, cycles)
    run = Run(
        parts=(Part(pattern, beats),),
        tempo=tempo_map(pattern, tempo, beats, request),
        first=request.first,
        ready=request.ready,
    )
    run = said_as_asked(run, _announcement(pattern, tempo, request), request, voice)
    slowest, fastest = _extremes(run, request)
    throws = [throw for _, throw in pattern.throws()]
    highest = highest_flying(throws, request.dwell)
    warnings = tempo_warnings(throws, slowest, fastest, request.room)
    return Piece(
        title=_title(pattern, request),
        run=run,
        voice=voice,
        balance=balance_from(request),
        tempo_reason=reason,
        warnings=tuple(warning.sentence for warning in warnings),
        highest_m=None if highest is None else request.room.height(highest, slowest),
    )


def _title(pattern: Pattern, request: Request) -> str:
    """Return the name that the pattern was given by, or else its throws."""
    if request.subject.lower() == pattern.text:
        return pattern.text
    from throwcount.engine.patterns.names import name_in  # most patterns are written as throws

    return name_in(request.subject) or pattern.text


def _extremes(run: Run, request: Request) -> tuple[float, float]:
    """Return the slowest and the fastest tempo of a pattern, in all sets that are planned."""
    slowest, fastest = run.tempo.extremes(last=run.opening.beats or math.inf)
    sets = request.total_sets or 1
    rises = sets // 2 if request.back else sets - 1
    raised = rises * request.raise_by
    return held_tempo(slowest + min(raised, 0)), held_tempo(fastest + max(raised, 0))


def _start_tempo(pattern: Pattern, request: Request) -> tuple[float, str]:
    """Return the first tempo, and why it is this one; empty if the person chose it."""
    if request.tempo is not None:
        return request.tempo, ""
    tempo = float(default_tempo(pattern, room=request.room))
    return tempo, default_tempo_reason(pattern, room=request.room)


def _announcement(pattern: Pattern, tempo: float, request: Request) -> str:
    if not request.announce:
        return ""
    return announcement(pattern, tempo, request.first, wording_of(request))


def _beats(pattern: Pattern, tempo: float, request: Request, cycles: int | None) -> int | None:
    """Return how many beats of throws there are, an even number for hands that throw together."""
    if request.beats is not None:
        return request.beats + request.beats % pattern.beats_per_turn
    if request.seconds is not None:
        beats = _beats_in(request.seconds, pattern, tempo, request)
        return beats + beats % pattern.beats_per_turn
    cycles = cycles if request.cycles is None else request.cycles
    return None if cycles is None else cycles * pattern.period


def _beats_in(seconds: float, pattern: Pattern, tempo: float, request: Request) -> int:
    if request.to is not None and request.curve != STEPS:
        return ramp_beats(tempo, request.to, seconds, _curve(request))
    tempos = steady(tempo) if request.to is None else _steps(pattern, tempo, request)
    return max(1, round(tempos.beat_at(seconds)))


def tempo_map(pattern: Pattern, tempo: float, beats: int | None, request: Request) -> TempoMap:
    """Return the tempo map of a run that begins at `tempo` and has `beats` beats of throws.

    Raises
    ------
    click.UsageError
        If the tempo is to change over a length that is not given.
    """
    if request.to is None:
        return steady(tempo)
    if request.curve == STEPS:
        return _steps(pattern, tempo, request)
    if beats is None:
        raise click.UsageError(
            "--to changes the tempo over a length; give it with --cycles, --beats or --seconds, "
            "or raise it in steps with --curve steps."
        )
    return ramp(tempo, request.to, beats, _curve(request))


def _steps(pattern: Pattern, tempo: float, request: Request) -> TempoMap:
    to = tempo if request.to is None else request.to
    every = request.every or DEFAULT_EVERY
    return steps(tempo, to, request.step or DEFAULT_STEP, every * pattern.period)


def _curve(request: Request) -> Curve:
    return next((curve for curve in EXPONENTS if curve == request.curve), "linear-beats")
