"""A routine rehearsed live, from the options to what is told at its end."""

import click

from caller.console.terminal import counted, length_told, tell
from caller.practice.options import PracticeOptions
from caller.practice.routine_conductor import RoutineConductor
from caller.practice.routine_plan import RoutinePlan
from caller.practice.session import Setting, led, stopping
from caller.rehearsals.routine_rehearsal import (
    part_number,
    rehearse_routine,
    routine_balance,
    routine_music,
)
from caller.rehearsals.telling import about_calls, about_voice, hands_told, routine_told
from caller.routine_file.reading import RoutineFile
from engine.routines.laying_out import LaidOut

READY: float = 8.0
"""Seconds to fill the hands, before the announcement."""


def check_practice(practice: PracticeOptions) -> None:
    """Refuse what changes the tempo from set to set.

    Raises
    ------
    click.UsageError
        If there is something of the kind.
    """
    moved = {"--raise": practice.raise_by, "--staircase": practice.staircase}
    moved |= {"--resume": practice.resume, "--rounds": practice.rounds > 1}
    for option, given in moved.items():
        if given:
            raise click.UsageError(
                f"{option} is for a single pattern; a routine is slowed down or sped up with "
                "--percent, and repeated with --sets."
            )


def rehearse(file: RoutineFile, laid: LaidOut, setting: Setting) -> None:
    """Rehearse a routine.

    Raises
    ------
    click.UsageError
        If there is no such part to begin with.
    MusicError
        If its music cannot be read.
    OutsideError
        If there is nothing to play on any more.
    """
    options, practice, voice = setting.options, setting.practice, setting.watching.voice
    begin = part_number(laid, options.begin)
    ready = READY if options.ready is None else options.ready
    rehearsed = rehearse_routine(file, laid, options, voice, ready, begin=begin)
    run, order = rehearsed.run, rehearsed.order
    opening = run.opening
    hands = hands_told(opening.pattern, opening.first or run.first)
    parts = counted(len(laid.parts), "part")
    tell(
        f"{file.title}: {parts}, {length_told(order.seconds)}. Fill your hands, {hands}. "
        + stopping(setting.watching.keys)
    )
    tell(*(concern.sentence for concern in order.concerns))
    rehearsal = rehearsed.rehearsal
    heard_so = [*about_calls(rehearsal), *about_voice(voice, rehearsal.timeline)]
    tell(*heard_so)
    with routine_music(file, voice.rate) as music:
        setting.player.speak_with(voice)
        plan = RoutinePlan(
            file=file,
            laid=laid,
            options=options,
            voice=voice,
            music=music,
            begin=begin or laid.parts[0].number,
            ready=ready,
            times=practice.sets or 1,
            rest=practice.rest,
        )
        balance = routine_balance(file, options)
        conductor = RoutineConductor(plan, setting.player, setting.keeper, balance)
        led(setting, conductor, " ".join(heard_so))
        tell(*routine_told(conductor))
