"""From the options to a practice."""

from dataclasses import replace
from typing import Final

from caller.options.shared_options import Options
from caller.practice.options import PracticeOptions
from caller.practice.plan import PracticePlan
from caller.rehearsals.rehearsal import Rehearsal, rehearse, tempo_map
from engine.patterns.pattern import Pattern
from engine.practising.practice import Climb, TempoRule
from engine.practising.staircase import Rule, Staircase
from engine.timing.tempo import TempoMap, held_tempo
from sounds.voices.voice import Voice

READY: Final = 8.0
"""Seconds to fill the hands, before the announcement."""

CYCLES_A_SET: Final = 16
"""Of a set in a practice of several, unless its length is given."""


def build(
    pattern: Pattern, options: Options, practice: PracticeOptions, voice: Voice
) -> tuple[PracticePlan, Rehearsal]:
    """Return a practice of one pattern, and its first set as it is told about.

    Parameters
    ----------
    pattern
        A pattern that can be thrown.
    options, practice
        What the person asked for.
    voice
        Who calls.

    Raises
    ------
    click.UsageError
        If sets are to follow one that never ends, or the tempo is to change over no length.
    """
    one = practice.sets is None and not practice.staircase
    rehearsal = rehearse(pattern, options, voice, READY, None if one else CYCLES_A_SET)
    run = rehearsal.run
    beats = run.opening.beats

    def tempos(tempo: float) -> TempoMap:
        to = None if options.to is None else held_tempo(options.to + tempo - run.tempo.start)
        return tempo_map(pattern, tempo, beats, replace(options, to=to))

    plan = PracticePlan(
        run=run,
        tempos=tempos,
        rule=_rule(run.tempo.start, practice),
        sets=1 if one else practice.sets,
        rounds=practice.rounds,
        rest=practice.rest,
        round_rest=practice.round_rest,
        ready=run.ready,
        unmarked=practice.unmarked,
        announce=options.announce,
    )
    return plan, rehearsal


def _rule(tempo: float, practice: PracticeOptions) -> TempoRule:
    if practice.staircase:
        return Staircase(tempo, Rule(clean_sets=practice.clean_sets))
    there = None
    if practice.back:
        there = ((practice.sets or 1) * practice.rounds) // 2
    return Climb(tempo, practice.raise_by, there)
