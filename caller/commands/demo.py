"""`throwcount demo`: a rehearsal of about a minute, heard or written to a file."""

import sys
import time
from collections.abc import Sequence
from itertools import chain, count
from pathlib import Path
from typing import Final

import click
from rich.table import Table
from rich.text import Text

from caller.commands import HELP_OPTIONS
from caller.console.terminal import length_told, show, tell
from caller.options.request import Request
from caller.practice.conductor import Controller
from caller.practice.keeper import NoRecorder
from caller.practice.playing import lead_through
from caller.practice.session import LiveSession
from caller.practice.situation import Playing
from caller.practice_log.records import Ending
from caller.rehearsals.boathouse import SETS, TITLE
from caller.rehearsals.called_voice import called_voice
from caller.rehearsals.piece import Piece
from caller.rehearsals.rehearsal import pattern_piece
from caller.rehearsals.telling import CAUTION
from engine.patterns.jugglable import read
from engine.timing.sequence import in_turn
from engine.timing.tempo import held_tempo
from sounds.errors import DeviceError
from sounds.files.audio_file import write_audio
from sounds.placing.moments import frame_at
from sounds.placing.score import mix
from sounds.playing.live import LivePlayer
from sounds.playing.passage import ScheduledRun
from sounds.voices.voice import CallingVoice

FILE_RATE: Final = 48_000

READING_SECONDS: Final = 6.0
"""For reading what the evening holds."""

EPILOG: Final = """\
\b
Example:
  throwcount demo
"""


@click.command("demo", epilog=EPILOG, context_settings=HELP_OPTIONS)
def demo_command() -> None:
    """Play a rehearsal of about a minute.

    Four patterns are called throw by throw. With nothing to play on, the same sound is written
    to a file in this folder.
    """
    evening = Table.grid(padding=(0, 2, 0, 0))
    for number, each in enumerate(SETS, start=1):
        evening.add_row(f"{number}.", each.request.subject, each.story)
    show(Text(f"{TITLE}.\n"), evening, Text(f"\n{CAUTION}\n"))
    try:
        with LivePlayer() as player:
            voice = called_voice(Request(), player.rate)
            player.speak_with(voice)
            if sys.stdout.isatty():  # What has been told is about to be covered by the throws.
                time.sleep(READING_SECONDS)
            session = LiveSession(player, voice, NoRecorder())
            lead_through(Request(), session, Evening(evening_pieces(voice), session))
    except DeviceError as error:
        tell(f"{error} So the rehearsal goes to a file.")
        _write()


class Evening(Controller):
    """Leads from one set of the evening to the next.

    `pieces` are the sets, in order.
    """

    def __init__(self, pieces: Sequence[Piece], session: LiveSession) -> None:
        super().__init__(Request(), session, pieces[0].balance, rests=False)
        self._pieces = pieces
        self._number = 0
        self._words = self._words.union(*(ScheduledRun(piece.run, 0.0).texts() for piece in pieces))

    @property
    def place(self) -> str:
        """Which set this is, in words."""
        return f"set {self._number + 1} of {len(self._pieces)}"

    def begin(self) -> None:
        """Begin with the first set, or the one that is gone to."""
        self._play(self._pieces[self._number].run)

    def step(self) -> None:
        """Go on to the next set where one has come to its end."""
        match self.situation:
            case Playing(scheduled) if (
                scheduled.end is not None and self._deck.heard() >= scheduled.end
            ):
                self.skip()

    def again(self) -> None:
        """Begin the set again."""
        self._interrupt()
        self.begin()

    def skip(self) -> None:
        """Go on to the next set, or end after the last one."""
        if self._number + 1 == len(self._pieces):
            self._end()
            return
        self._number += 1
        self.again()

    def back(self) -> None:
        """Go back to the set before."""
        self._number = max(self._number - 1, 0)
        self.again()

    def nudge(self, change: float) -> None:
        """Change the tempo of this set."""
        match self.situation:
            case Playing(scheduled):
                self._change_tempo(scheduled, held_tempo(self._tempo_now(scheduled) + change))

    def _go_on(self, _scheduled: ScheduledRun, _beat: int) -> None:
        self.again()

    def _rest_seconds(self) -> float:
        return 0.0

    def _thrown(self) -> None:
        return None

    def _close_set(self, status: Ending) -> None:
        """Keep nothing."""


def evening_pieces(voice: CallingVoice) -> list[Piece]:
    """Return the sets of the evening, called by a voice."""
    return [
        pattern_piece(read(each.request.subject), each.request, voice, cycles=None) for each in SETS
    ]


def _write() -> None:
    voice = called_voice(Request(), FILE_RATE)
    timeline = in_turn([piece.timeline for piece in evening_pieces(voice)])
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
