"""Playing what a person asked for, a pattern or a routine, live and hands-free."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, TypeAlias

from caller.console.terminal import tell
from caller.options.shared_options import Options
from caller.playing.controls import Control, with_single_pedal
from caller.playing.live import device_told
from caller.practice.hall import Companion, Watching
from caller.practice.options import PracticeOptions
from caller.practice.pattern_session import practise
from caller.practice.routine_session import rehearse
from caller.practice.session import Setting, kept_session, opened_log
from caller.practice_log.log import PracticeLog
from caller.rehearsals.called_voice import called_voice
from caller.routine_file.reading import RoutineFile
from engine.patterns.pattern import Pattern
from engine.routines.laying_out import LaidOut
from sounds.playing.live import LivePlayer

Join: TypeAlias = Callable[[LivePlayer, Watching], Companion | None]
"""Returns what goes along with a practice on a player, if anything does."""


def alone(_player: LivePlayer, _watching: Watching) -> None:
    """Let nothing go along."""


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a person asked for.

    Parameters
    ----------
    options, practice
        Of what is played, and how.
    keys
        What each key asks for.
    latency
        Seconds of sound kept ready.
    delay
        Seconds that pass between the device and the ear, beyond what the device tells.
    join
        What goes along with it.
    """

    options: Options
    practice: PracticeOptions
    keys: Mapping[str, Control] = field(default_factory=dict)
    latency: float = 0.05
    delay: float = 0.0
    join: Join = alone

    @classmethod
    def of(
        cls,
        options: Options,
        practice: PracticeOptions,
        given: Mapping[str, Any],
        join: Join = alone,
    ) -> "Wishes":
        """Return them from the options, and from click's arguments for live sound."""
        keys = with_single_pedal(given["key"], practice.unmarked)
        delay = given["speaker_delay"] / 1000
        return cls(options, practice, keys, given["latency"], delay, join)


def play_pattern(pattern: Pattern, wishes: Wishes) -> None:
    """Practise a pattern.

    Raises
    ------
    click.UsageError
        If the options contradict each other.
    OutsideError
        If there is nothing to play on.
    """
    with _player(wishes) as player, opened_log(wishes.practice) as log:
        watching = _watching(wishes, player)
        companion = wishes.join(player, watching)
        options = _resumed(pattern, wishes, log)
        with kept_session(wishes.practice.props, options.output or "", log) as keeper:
            setting = Setting(options, wishes.practice, player, watching, keeper, companion)
            practise(pattern, setting)


def play_routine(file: RoutineFile, laid: LaidOut, wishes: Wishes) -> None:
    """Rehearse a routine; errors as those of `play_pattern`."""
    with _player(wishes) as player, opened_log(wishes.practice) as log:
        watching = _watching(wishes, player, file.cue_voice)
        companion = wishes.join(player, watching)
        props = wishes.practice.props or file.props or ""
        with kept_session(props, wishes.options.output or "", log) as keeper:
            setting = Setting(wishes.options, wishes.practice, player, watching, keeper, companion)
            rehearse(file, laid, setting)


def _player(wishes: Wishes) -> LivePlayer:
    with device_told():
        return LivePlayer(wishes.options.output, wishes.options.rate, wishes.latency)


def _watching(wishes: Wishes, player: LivePlayer, cue_voice: str | None = None) -> Watching:
    voice = called_voice(wishes.options, player.rate, cue_voice)
    return Watching(voice, wishes.keys, wishes.delay)


def _resumed(pattern: Pattern, wishes: Wishes, log: PracticeLog | None) -> Options:
    """Return the options with the tempo last held, where that is asked for and known."""
    if not wishes.practice.resume:
        return wishes.options
    held = None if log is None else log.last_tempo(pattern, wishes.practice.props or None)
    if held is None:
        tell("The practice log has no clean set of this pattern to go on from.")
        return wishes.options
    tell(f"Going on from {held:g} beats a minute, the tempo last held clean.")
    return replace(wishes.options, tempo=held)
