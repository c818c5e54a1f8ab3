"""`throwcount play`: practise a pattern, or rehearse a routine, live and hands-free."""

from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import click

from caller.arguments import PatternCommand
from caller.called_voice import called_voice
from caller.controls import with_single_pedal
from caller.live import device_told
from caller.live_options import live_options
from caller.options import Options, options_from, shared_options
from caller.practice.hall import Watching
from caller.practice.options import PracticeOptions, practice_from, practice_options
from caller.practice.pattern_session import practise
from caller.practice.routine_session import check_practice, rehearse
from caller.practice.session import Setting, kept_session, opened_log
from caller.practice_log.log import PracticeLog
from caller.routine_file.reading import is_routine_file, read_routine
from caller.routine_options import refuse_without_routine, with_wishes
from caller.routine_rehearsal import laid_out
from caller.settings.file import settings_option
from caller.terminal import tell
from caller.wrong_pattern import wrong_input_told
from caller.wrong_routine import adding_up
from engine.jugglable import read
from engine.pattern import Pattern
from sounds.live import LivePlayer

EPILOG: Final = """\
\b
Examples:
  throwcount play 531
  throwcount play 744 --tempo 200 --cycles 20 --first left
  throwcount play 531 --sets 5 --cycles 20 --rest 30 --raise 5
  throwcount play 531 --sets 12 --staircase --unmarked clean
  throwcount play walk.toml --from "the well" --percent 80
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
    """Play a pattern or a routine, throw by throw.

    A click and a spoken value on every beat. SUBJECT is a pattern, such as 531, or a routine
    file. A pattern without a length goes on until you stop it; with --sets or --staircase it is a
    practice of sets of 16 cycles, unless you give another length. A routine is gone through once,
    or as often as --sets says. Every set, every part and every mark is kept in the practice log.
    """
    options, practice = options_from(given), practice_from(given)
    if is_routine_file(subject):
        _routine(Path(subject), options, practice, given)
    else:
        _pattern(subject, options, practice, given)


def _pattern(
    subject: str, options: Options, practice: PracticeOptions, given: dict[str, Any]
) -> None:
    refuse_without_routine(options)
    with wrong_input_told(subject, as_json=False):
        pattern = read(subject)
    with _player(options, given) as player, opened_log(practice) as log:
        watching = _watching(options, practice, player, given)
        options = _resumed(pattern, options, practice, log)
        with kept_session(practice.props, options.output or "", log) as keeper:
            practise(pattern, Setting(options, practice, player, watching, keeper))


def _routine(
    path: Path, options: Options, practice: PracticeOptions, given: dict[str, Any]
) -> None:
    check_practice(practice)
    file = read_routine(path)
    options = with_wishes(options, file)
    with adding_up(file):
        laid = laid_out(file, options)
    with _player(options, given) as player, opened_log(practice) as log:
        watching = _watching(options, practice, player, given, file.cue_voice)
        props = practice.props or file.props or ""
        with kept_session(props, options.output or "", log) as keeper:
            rehearse(file, laid, Setting(options, practice, player, watching, keeper))


def _player(options: Options, given: dict[str, Any]) -> LivePlayer:
    with device_told():
        return LivePlayer(options.output, options.rate, given["latency"])


def _watching(
    options: Options,
    practice: PracticeOptions,
    player: LivePlayer,
    given: dict[str, Any],
    cue_voice: str | None = None,
) -> Watching:
    return Watching(
        called_voice(options, player.rate, cue_voice),
        with_single_pedal(given["key"], practice.unmarked),
        given["speaker_delay"] / 1000,
    )


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
