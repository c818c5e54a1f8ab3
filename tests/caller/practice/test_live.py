"""A practice goes on whatever becomes of its observer."""

from dataclasses import dataclass, field

import pytest
from handmade import ToneVoice

from throwcount.caller.options.request import Request
from throwcount.caller.practice.controller import Controller
from throwcount.caller.practice.live import LiveSession
from throwcount.caller.practice.loop import PracticeLoop
from throwcount.caller.practice.recorder import Recorder, Tally
from throwcount.caller.practice.situation import Ended, Situation


@dataclass
class Player:
    looks: int = 0

    @property
    def over(self) -> bool:
        self.looks += 1
        return self.looks > 5

    def fault(self) -> str:
        return ""

    def heard(self) -> float:
        return 0.0


@dataclass
class Nobody:
    situation: Situation = field(default_factory=Ended)
    place: str = ""
    tally: Tally = field(default_factory=Tally)
    steps: int = 0
    answer: str = ""

    def begin(self) -> None:
        pass

    def step(self) -> None:
        self.steps += 1


class Faulty:
    asked = 0

    def step(self, _controller: Controller) -> str:
        self.asked += 1
        if self.asked == 1:
            return "It is heard."
        raise ZeroDivisionError("division by zero")

    def note_restart(self) -> None:
        pass


def test_a_fault_is_told_and_the_practice_goes_on(capsys: pytest.CaptureFixture[str]) -> None:
    player, controller, observer = Player(), Nobody(), Faulty()
    session = LiveSession(player, ToneVoice(), Recorder(), observer)
    PracticeLoop(Request(), session, controller).practise()
    assert controller.steps == 5
    assert observer.asked == 2
    shown = capsys.readouterr().out
    assert "It is heard." in shown
    assert "goes on without being listened to. ZeroDivisionError: division by zero." in shown
