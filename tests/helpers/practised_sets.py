"""A practice of sets, on a deck whose clock the test moves."""

from collections.abc import Callable

from handmade import RATE, ToneVoice
from pretend_deck import Deck, Diary

from throwcount.caller.options.request import Request
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.pattern_controller import BlockPlace, PatternController
from throwcount.caller.practice.recorder import Recorder
from throwcount.caller.practice.sessions import led_pattern
from throwcount.caller.practice.situation import Playing
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.tempo_rules import Rule, Staircase
from throwcount.sounds.output.commands import Command, Say

WORD = 0.5
TICK = 0.125
"""Seconds that a word takes, and that the clock moves at a time."""


class PractisedSets:
    """A practice of sets of 12 throws of 531 at 120 beats a minute, 6 s each."""

    def __init__(
        self,
        rule: Rule | None = None,
        recorder: Recorder | None = None,
        block: BlockPlace | None = None,
        best: int | None = None,
        **changes: object,
    ) -> None:
        usual = {"tempo": 120, "beats": 12, "sets": 3, "rest": 20.0, "ready": 8.0}
        request = Request(**usual | changes)
        self.deck = Deck()
        self.diary = Diary()
        voice = self.voice = ToneVoice([round(WORD * RATE)])
        self.diary.best = best
        session = LiveSession(self.deck, voice, recorder or self.diary)
        self.controller, piece = led_pattern(read("531"), request, session, block)
        if rule is not None:
            self.controller = PatternController(request, piece, session, Staircase(120.0, rule))
        self.controller.begin()

    def wait(self, until: Callable[[], object], limit: float = 600.0) -> None:
        end = self.deck.now + limit
        while not until():
            assert self.clock() < end, "it never came to that"
            self.controller.step()

    def clock(self) -> float:
        self.deck.now += TICK
        return self.deck.now

    def wait_for(self, kind: type) -> None:
        self.wait(lambda: isinstance(self.controller.situation, kind))

    def wait_until_beat(self, beat: int) -> None:
        situation = self.controller.situation
        assert isinstance(situation, Playing)
        moment = situation.scheduled.time_at(beat)
        self.wait(lambda: self.deck.now >= moment)

    def said(self) -> list[str]:
        return [command.text for command in self.deck.sent if isinstance(command, Say)]

    def all(self, kind: type) -> list[Command]:
        return [command for command in self.deck.sent if isinstance(command, kind)]

    def last(self, kind: type) -> Command:
        return next(command for command in reversed(self.deck.sent) if isinstance(command, kind))
