"""A routine of three patterns and a rest, led on a deck whose clock the test moves."""

from collections.abc import Callable
from pathlib import Path

from pretend_deck import Deck, Diary

from throwcount.caller.options.request import Request
from throwcount.caller.pieces.routine import RoutineSource
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.routine_controller import RoutineController
from throwcount.caller.practice.situation import Playing
from throwcount.caller.routine_file.reading import RoutineFile
from throwcount.engine.patterns.rules import read
from throwcount.engine.routines.layout import lay_out
from throwcount.engine.routines.routine import Length, PatternPart, RestPart, Routine
from throwcount.sounds.mixing.music_bed import Music
from throwcount.sounds.output.commands import Play
from throwcount.sounds.voices.recorded import built_in
from throwcount.sounds.voices.stand_ins import FallbackVoice, ToneVoice
from throwcount.sounds.voices.voice import CueVoice

RATE = 8000
TICK = 0.125


def cue_voice() -> CueVoice:
    calls = FallbackVoice([built_in(RATE)], ToneVoice(RATE))
    return CueVoice(calls, calls)


def part(text: str, cycles: int, **more: object) -> PatternPart:
    return PatternPart(pattern=read(text), length=Length(cycles=cycles), **more)


ROUTINE = Routine(
    title="a walk",
    tempo=120.0,
    parts=(
        part("3", 12),
        part("531", 4, name="the well"),
        RestPart(length=Length(beats=16)),
        part("4", 16),
    ),
)
"""Parts of 6, 6 (after no bridge) and 8 s, with a rest of 8 s before the last."""


class Rehearsal:
    """A routine under way."""

    def __init__(
        self,
        voice: CueVoice,
        music: Music | None = None,
        *,
        stretch: tuple[int | None, int | None] = (None, None),
        **changes: object,
    ) -> None:
        file = RoutineFile(path=Path("walk.toml"), routine=ROUTINE, places=("1", "2", "3", "4"))
        request = Request(announce=False, ready=8.0, **changes)
        source = RoutineSource(request, file, lay_out(ROUTINE), *stretch)
        self.deck, self.diary = Deck(), Diary()
        session = LiveSession(self.deck, voice, self.diary)
        self.controller = RoutineController(source, session, music)
        self.controller.begin()

    def wait(self, until: Callable[[], object], limit: float = 200.0) -> None:
        end = self.deck.now + limit
        while not until():
            assert self.deck.now < end, "it never came to that"
            self.deck.now += TICK
            self.controller.step()

    def wait_until_beat(self, beat: int) -> None:
        situation = self.controller.situation
        assert isinstance(situation, Playing)
        moment = situation.scheduled.time_at(beat) + TICK
        self.wait(lambda: self.deck.now >= moment)

    def played(self) -> list[Play]:
        return [command for command in self.deck.sent if isinstance(command, Play)]
