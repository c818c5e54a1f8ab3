"""`throwcount play`: a pattern, live, from the speakers."""

from collections.abc import Mapping
from typing import Any, Final

import click

from caller.arguments import PatternCommand
from caller.called_voice import called_voice
from caller.controls import STOP, Control, keys_of
from caller.keys.reading import can_read_keys
from caller.live import Speakers, device_told, live_rate, play_live
from caller.live_options import live_options
from caller.options import options_from, shared_options
from caller.rehearsal import balance_from, rehearse
from caller.settings.file import settings_option
from caller.telling import about, about_voice
from caller.terminal import shortened
from caller.wrong_pattern import wrong_input_told
from engine.jugglable import read
from sounds.devices import sound_library

READY: Final = 8.0
"""Seconds to fill the hands, before the announcement."""

EPILOG: Final = """\
\b
Examples:
  throwcount play 531
  throwcount play 744 --tempo 200 --cycles 20 --first left
  throwcount play 97531 --tempo 160 --to 240 --curve steps --step 5 --every 4
"""


@click.command("play", cls=PatternCommand, epilog=EPILOG)
@click.argument("subject")
@shared_options
@live_options
@settings_option
def command(
    subject: str,
    **given: Any,  # noqa: ANN401 - the shared options, checked when they become `Options`
) -> None:
    """Play a pattern: a click and a spoken throw on every beat.

    SUBJECT is a pattern, such as 531. Without a length it goes on until you stop it.
    """
    options = options_from(given)
    with wrong_input_told(subject, as_json=False):
        pattern = read(subject)
    with device_told():
        library = sound_library()
        rate = options.rate or live_rate(library, options.output)
    voice = called_voice(options.voice, rate)
    rehearsal = rehearse(pattern, options, voice, READY, cycles=None)
    ending = "" if options.has_length else f" {_stopping(given['key'])}"
    click.echo(f"{shortened(pattern.text)}: fill your hands.{ending}")
    for line in (*about(rehearsal), *about_voice(voice)):
        click.echo(line)
    beats = rehearsal.run.parts[0].beats
    cycles = None if beats is None else -(-beats // pattern.period)
    speakers = Speakers(options.output, given["latency"], given["speaker_delay"] / 1000)
    balance = balance_from(options)
    with device_told():
        thrown = play_live(
            rehearsal.timeline, voice, speakers, balance, library, given["key"], cycles
        )
    click.echo(f"{thrown} throws.")


def _stopping(keys: Mapping[str, Control]) -> str:
    """Return how to stop, in a sentence."""
    own = keys_of(STOP, keys) if can_read_keys() else ()
    return f"{own[0]} or Ctrl-C stops." if own else "Ctrl-C stops."
