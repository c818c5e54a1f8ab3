"""`throwcount demo`: a rehearsal of about a minute, heard or written to a file."""

import sys
import time
from itertools import chain, count
from pathlib import Path
from typing import Final

import click
from rich.table import Table
from rich.text import Text

from caller.commands import HELP_OPTIONS
from caller.console.terminal import length_told, show, tell
from caller.options.shared_options import Options
from caller.playing.controls import key_map
from caller.playing.live import play_live
from caller.rehearsals.boathouse import SETS, TITLE
from caller.rehearsals.called_voice import called_voice
from caller.rehearsals.rehearsal import Rehearsal, rehearse
from caller.rehearsals.telling import CAUTION
from engine.patterns.jugglable import read
from engine.timing.sequence import in_turn
from sounds.errors import DeviceError
from sounds.files.audio_file import write_audio
from sounds.placing.moments import frame_at
from sounds.placing.score import mix
from sounds.playing.live import LivePlayer
from sounds.voices.voice import Voice

FILE_RATE: Final = 48_000

READING_SECONDS: Final = 6.0
"""For reading what the evening holds."""

EPILOG: Final = """\
\b
Example:
  throwcount demo
"""


@click.command("demo", epilog=EPILOG, context_settings=HELP_OPTIONS)
def command() -> None:
    """Play a rehearsal of about a minute.

    Four patterns are called throw by throw. With nothing to play on, the same sound is written
    to a file in this folder.
    """
    evening = Table.grid(padding=(0, 2, 0, 0))
    for number, each in enumerate(SETS, start=1):
        evening.add_row(f"{number}.", each.pattern, each.story)
    show(Text(f"{TITLE}.\n"), evening, Text(f"\n{CAUTION}\n"))
    try:
        with LivePlayer() as player:
            voice = called_voice(Options(), player.rate)
            if sys.stdout.isatty():  # What has been told is about to be covered by the throws.
                time.sleep(READING_SECONDS)
            play_live(_rehearsals(voice), player, voice, key_map())
    except DeviceError as error:
        tell(f"{error} So the rehearsal goes to a file.")
        _write()


def _rehearsals(voice: Voice) -> list[Rehearsal]:
    return [
        rehearse(read(each.pattern), each.options, voice, each.ready, cycles=None) for each in SETS
    ]


def _write() -> None:
    voice = called_voice(Options(), FILE_RATE)
    timeline = in_turn([rehearsal.timeline for rehearsal in _rehearsals(voice)])
    seconds = timeline.seconds or 0.0
    source = mix(timeline, voice, voice.rate)
    place = _free_place()
    write_audio(place, source, voice.rate, frame_at(seconds, voice.rate))
    tell(f"Wrote {place.resolve()}, {length_told(seconds)} long.")


def _free_place() -> Path:
    """Return a name in this folder that no file has."""
    numbered = (f"throwcount-demo-{number}.wav" for number in count(2))
    places = map(Path, chain(["throwcount-demo.wav"], numbered))
    return next(place for place in places if not place.exists())
