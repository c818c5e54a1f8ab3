"""The sets of the demonstration, one after another, on a deck whose clock the test moves."""

from pretend_deck import SOON, Deck, Diary

from throwcount.caller.commands.demo import Evening, evening_pieces
from throwcount.caller.practice.controller import NO_SET
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.situation import Ended, Paused, Playing
from throwcount.caller.terminal.controls import AGAIN, BACK, DROP, FASTER, NEXT, PAUSE
from throwcount.sounds.output.commands import Continue, End, Play
from throwcount.sounds.voices.stand_ins import ToneVoice

TICK = 0.25


class Practice:
    def __init__(self) -> None:
        self.deck = Deck()
        voice = ToneVoice(8_000)
        self.pieces = evening_pieces(voice)
        self.evening = Evening(self.pieces, LiveSession(self.deck, voice, Diary()))
        self.evening.begin()

    def go_on(self, seconds: float) -> None:
        end = self.deck.now + seconds
        while self.deck.now < end and not isinstance(self.evening.situation, Ended):
            self.deck.now += TICK
            self.evening.step()

    def played(self) -> list[str]:
        sent = self.deck.sent
        return [each.scheduled.run.opening.title for each in sent if isinstance(each, Play)]


def test_the_sets_come_in_turn_and_are_equally_loud() -> None:
    practice = Practice()
    practice.go_on(100)
    assert practice.played() == ["441", "531", "(4,2x)*", "744"]
    assert isinstance(practice.deck.sent[-1], End)
    seconds = sum(piece.seconds for piece in practice.pieces)
    assert seconds <= practice.deck.now < seconds + 4 * (SOON + TICK)
    words = [each.scheduled.words for each in practice.deck.sent if isinstance(each, Play)]
    assert len(set(words)) == 1


def test_keys_lead_from_set_to_set() -> None:
    practice = Practice()
    evening = practice.evening
    for asked in (BACK, NEXT, AGAIN, NEXT, BACK):
        practice.go_on(1)
        evening.ask(asked)
    assert practice.played() == ["441", "441", "531", "531", "(4,2x)*", "531"]
    assert evening.place == "set 2 of 4"
    practice.go_on(10)
    evening.ask(FASTER)
    assert isinstance(practice.deck.sent[-1], Continue)
    evening.ask(PAUSE)
    assert isinstance(evening.situation, Paused)
    evening.ask(PAUSE)
    assert isinstance(evening.situation, Playing)
    assert practice.played()[-1] == "531"


def test_a_mark_is_answered() -> None:
    practice = Practice()
    answers = []
    for seconds, asked in ((0.5, None), (8.0, NEXT), (0.5, None)):
        practice.go_on(seconds)
        practice.evening.ask(DROP)
        answers.append(practice.evening.answer)
        if asked is not None:
            practice.evening.ask(asked)
    assert answers == [NO_SET, *["Drop kept for set 1 of 4."] * 2]
