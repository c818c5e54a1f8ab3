"""`throwcount play`: practise a pattern live, hands-free."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from typing import Any, Final

import click

from caller.arguments import PatternCommand
from caller.called_voice import called_voice
from caller.controls import STOP, Control, keys_of, with_single_pedal
from caller.keys.reading import can_read_keys
from caller.live import device_told, tell_gaps
from caller.live_options import live_options
from caller.options import Options, options_from, shared_options
from caller.practice.building import build
from caller.practice.conductor import Conductor
from caller.practice.hall import Hall, Watching
from caller.practice.keeper import Keeper, LogKeeper, NoKeeper
from caller.practice.options import PracticeOptions, practice_from, practice_options
from caller.practice_log.errors import LogError
from caller.practice_log.log import PracticeLog
from caller.rehearsal import balance_from
from caller.settings.file import settings_option
from caller.telling import about_calls, about_tempo, about_voice, hands_told, practice_told
from caller.terminal import shortened, tell
from caller.wrong_pattern import wrong_input_told
from engine.jugglable import read
from engine.pattern import Pattern
from sounds.live import LivePlayer
from sounds.voice import natural_seconds

EPILOG: Final = """\
\b
Examples:
  throwcount play 531
  throwcount play 744 --tempo 200 --cycles 20 --first left
  throwcount play 531 --sets 5 --cycles 20 --rest 30 --raise 5
  throwcount play 531 --sets 12 --staircase --unmarked clean
  throwcount play 97531 --tempo 160 --to 240 --curve steps --step 5 --every 4
"""


@click.command("play", cls=PatternCommand, epilog=EPILOG)
@click.argument("subject")
@shared_options
@practice_options
@live_options
@settings_option
def command(
    subject: str,
    **given: Any,  # noqa: ANN401 - the options, checked when they become dataclasses
) -> None:
    """Play a pattern: a click and a spoken throw on every beat.

    SUBJECT is a pattern, such as 531. Without a length it goes on until you stop it; with --sets
    or --staircase it is a practice of sets of 16 cycles, unless you give another length. Every
    set and mark is kept in the practice log.
    """
    options, practice = options_from(given), practice_from(given)
    with wrong_input_told(subject, as_json=False):
        pattern = read(subject)
    with device_told():
        player = LivePlayer(options.output, options.rate, given["latency"])
    with player, _log(practice) as log:
        watching = Watching(
            called_voice(options, player.rate),
            with_single_pedal(given["key"], practice.unmarked),
            given["speaker_delay"] / 1000,
        )
        options = _resumed(pattern, options, practice, log)
        with _session(practice, options, log) as keeper:
            _practise(pattern, options, practice, player, watching, keeper)


def _practise(  # noqa: PLR0913, PLR0917 - what is practised, on what, and who is told
    pattern: Pattern,
    options: Options,
    practice: PracticeOptions,
    player: LivePlayer,
    watching: Watching,
    keeper: Keeper,
) -> None:
    voice = watching.voice
    plan, rehearsal = build(pattern, options, practice, voice)
    endless = plan.total is None or plan.run.opening.beats is None
    ending = f" {_stopping(watching.keys)}" if endless else ""
    hands = hands_told(pattern, plan.run.first)
    tell(f"{shortened(pattern.text)}: fill your hands, {hands}.{ending}")
    heard_so = [*about_calls(rehearsal), *about_voice(voice)]
    tell(*about_tempo(rehearsal), *heard_so)
    player.speak_with(voice)
    conductor = Conductor(plan, player, keeper, balance_from(options), natural_seconds(voice))
    hall = Hall(player, conductor, replace(watching, notice=" ".join(heard_so)))
    with device_told():
        hall.practise()
    if hall.interrupted:
        tell("Stopped.")
    tell(*practice_told(conductor))
    tell_gaps(player)


def _stopping(keys: Mapping[str, Control]) -> str:
    """Return how to stop, in a sentence."""
    own = keys_of(STOP, keys) if can_read_keys() else ()
    return f"{own[0]} or Ctrl-C stops." if own else "Ctrl-C stops."


@contextmanager
def _log(practice: PracticeOptions) -> Iterator[PracticeLog | None]:
    """Open the practice log; where that fails, say so, and practise without."""
    if not practice.keep:
        yield None
        return
    try:
        log = PracticeLog.open(practice.log_file)
    except LogError as error:
        tell(f"{error} This practice is not kept.", errors=True)
        yield None
        return
    with log:
        yield log


@contextmanager
def _session(
    practice: PracticeOptions, options: Options, log: PracticeLog | None
) -> Iterator[Keeper]:
    """Begin a session in the log, and end it at the end."""
    if log is None:
        yield NoKeeper()
        return
    keeper = LogKeeper(log, practice.props, options.output or "", _tell_failure)
    try:
        yield keeper
    finally:
        keeper.close()


def _tell_failure(sentence: str) -> None:
    tell(f"{sentence} What follows may not be kept.", errors=True)


def _resumed(
    pattern: Pattern, options: Options, practice: PracticeOptions, log: PracticeLog | None
) -> Options:
    """Return the options with the tempo last held, where that is asked for and known."""
    if not practice.resume:
        return options
    held = None if log is None else log.last_tempo(pattern, practice.props or None)
    if held is None:
        tell("The practice log has no clean set of this pattern to go on from.")
        return options
    tell(f"Going on from {held:g} beats a minute, the tempo last held clean.")
    return replace(options, tempo=held)
