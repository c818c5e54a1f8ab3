"""`throwcount demo`: a rehearsal of about a minute, heard or written to a file.

It is an evening's practice in an old boathouse, before a village lantern walk.
"""

import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain, count
from pathlib import Path
from typing import Final

import click
from rich.table import Table
from rich.text import Text

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.log.records import Ending
from throwcount.caller.options.request import Request
from throwcount.caller.pieces.pattern import pattern_piece
from throwcount.caller.pieces.piece import Piece, called_voice
from throwcount.caller.practice.controller import Controller
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.recorder import Recorder
from throwcount.caller.practice.sessions import lead_through
from throwcount.caller.practice.situation import Playing
from throwcount.caller.terminal.printing import CAUTION, length_text, show, tell
from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import in_turn
from throwcount.engine.timing.tempo import held_tempo
from throwcount.sounds.errors import DeviceError
from throwcount.sounds.files.audio_files import write_audio
from throwcount.sounds.mixing.score import mix
from throwcount.sounds.output.commands import ScheduledRun
from throwcount.sounds.output.player import LivePlayer
from throwcount.sounds.samples import frame_at
from throwcount.sounds.voices.voice import CallingVoice


@dataclass(frozen=True, slots=True)
class DemoSet:
    """One set of the evening."""

    story: str
    """What the screen says about it."""
    request: Request
    """What is thrown and called."""


TITLE: Final = "An evening in the boathouse, a week before the lantern walk"

SETS: Final = (
    DemoSet(
        "Warming up. Three lanterns, and every throw is named on its beat.",
        Request(subject="441", tempo=150, cycles=8, ready=0.5),
    ),
    DemoSet(
        "The turn by the well: the tempo climbs with every throw, and the lanterns stay low.",
        Request(subject="531", tempo=150, to=210, cycles=8, ready=1.5),
    ),
    DemoSet(
        "Crossing the bridge, both hands at once; the left begins each cycle.",
        Request(subject="(4,2x)*", tempo=180, cycles=5, ready=1.5),
    ),
    DemoSet(
        "The finish on the green: five lanterns, two hundred and forty throws a minute.",
        Request(subject="744", tempo=240, cycles=10, ready=1.5),
    ),
)


FILE_RATE: Final = 48_000

READING_SECONDS: Final = 6.0
"""Seconds to read what the evening holds."""

EPILOG: Final = """\
\b
Example:
  throwcount demo
"""


@click.command("demo", epilog=EPILOG, context_settings=HELP_OPTIONS)
def demo_command() -> None:
    """Play a rehearsal of about a minute.

    Four patterns are called throw by throw. Without a sound device, the same sound is written to
    a file in this folder.
    """
    evening = Table.grid(padding=(0, 2, 0, 0))
    for number, each in enumerate(SETS, start=1):
        evening.add_row(f"{number}.", each.request.subject, each.story)
    show(Text(f"{TITLE}.\n"), evening, Text(f"\n{CAUTION}\n"))
    try:
        with LivePlayer() as player:
            voice = called_voice(Request(), player.rate)
            player.speak_with(voice)
            if sys.stdout.isatty():  # The throws are about to cover what has been told.
                time.sleep(READING_SECONDS)
            session = LiveSession(player, voice, Recorder())
            lead_through(Request(), session, Evening(evening_pieces(voice), session))
    except DeviceError as error:
        tell(f"{error} So the rehearsal goes to a file.")
        _write()


class Evening(Controller):
    """Leads from one set of the evening to the next; `pieces` are the sets, in order."""

    def __init__(self, pieces: Sequence[Piece], session: LiveSession) -> None:
        super().__init__(Request(), session, pieces[0].balance, rests=False)
        self._pieces = pieces
        self._number = 0
        self._words = self._words.union(*(ScheduledRun(piece.run, 0.0).texts() for piece in pieces))

    @property
    def place(self) -> str:
        """The number of the set, in words."""
        return f"set {self._number + 1} of {len(self._pieces)}"

    def begin(self) -> None:
        """Begin the current set."""
        self._play(self._pieces[self._number].run)

    def step(self) -> None:
        """Go on to the next set when this one has ended."""
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
        """Go on to the next set, or end after the last."""
        if self._number + 1 == len(self._pieces):
            self._end()
            return
        self._number += 1
        self.again()

    def back(self) -> None:
        """Go back to the previous set."""
        self._number = max(self._number - 1, 0)
        self.again()

    def nudge(self, change: float) -> None:
        """Change the tempo of this set."""
        match self.situation:
            case Playing(scheduled):
                self._change_tempo(scheduled, held_tempo(self._next_tempo(scheduled) + change))

    def _go_on(self, _scheduled: ScheduledRun, _beat: int) -> None:
        self.again()

    def _rest_seconds(self) -> float:
        return 0.0

    def _note_throws(self) -> None:
        match self.situation:
            case Playing(scheduled) if self.tally.place != self.place:
                if self._deck.heard() >= scheduled.time_at(0):
                    self._first_throw()

    def _thrown(self, _until: float | None = None) -> None:
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
    tell(f"Wrote {place.resolve()}, {length_text(seconds)} long.")


def _free_place() -> Path:
    """Return a name in this folder that no file has."""
    numbered = (f"throwcount-demo-{number}.wav" for number in count(2))
    places = map(Path, chain(["throwcount-demo.wav"], numbered))
    return next(place for place in places if not place.exists())
