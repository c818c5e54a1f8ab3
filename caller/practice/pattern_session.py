"""A practice of one pattern, from the options to what is told at its end."""

from caller.console.terminal import shortened, tell
from caller.practice.building import build
from caller.practice.pattern_conductor import PatternConductor
from caller.practice.session import Setting, led, stopping
from caller.rehearsals.rehearsal import balance_from
from caller.rehearsals.telling import (
    about_calls,
    about_tempo,
    about_voice,
    hands_told,
    practice_told,
)
from engine.patterns.pattern import Pattern
from sounds.voices.voice import natural_seconds


def practise(pattern: Pattern, setting: Setting) -> None:
    """Practise a pattern.

    Raises
    ------
    click.UsageError
        If the options contradict each other.
    OutsideError
        If there is nothing to play on any more.
    """
    voice = setting.watching.voice
    plan, rehearsal = build(pattern, setting.options, setting.practice, voice)
    endless = plan.total is None or plan.run.opening.beats is None
    ending = f" {stopping(setting.watching.keys)}" if endless else ""
    hands = hands_told(pattern, plan.run.first)
    tell(f"{shortened(pattern.text)}: fill your hands, {hands}.{ending}")
    heard_so = [*about_calls(rehearsal), *about_voice(voice)]
    tell(*about_tempo(rehearsal), *heard_so)
    setting.player.speak_with(voice)
    balance = balance_from(setting.options)
    seconds = natural_seconds(voice)
    conductor = PatternConductor(plan, setting.player, setting.keeper, balance, seconds)
    led(setting, conductor, " ".join(heard_so))
    tell(*practice_told(conductor))
