"""What may be asked of whoever leads through a practice."""

from typing import Final, Protocol

from caller.playing.controls import (
    AGAIN,
    BACK,
    CLEAN,
    DROP,
    FASTER,
    NEXT,
    PAUSE,
    SLOWER,
    STOP,
    VOICE,
    Control,
)
from caller.practice.situation import Situation
from caller.practice.tally import Tally
from engine.practising.marks import Mark

NUDGE: Final = 4.0
"""Beats a minute that faster and slower change the tempo by."""


class Asked(Protocol):
    """Someone who does what is asked for."""

    def pause_or_go_on(self) -> None:
        """Pause, or go on after a pause."""

    def again(self) -> None:
        """Begin again what is going on."""

    def skip(self) -> None:
        """Go on to what comes next."""

    def back(self) -> None:
        """Go back to what came before."""

    def nudge(self, change: float) -> None:
        """Change the tempo by so many beats a minute."""

    def switch_voice(self) -> None:
        """Let words be heard, or not."""

    def mark(self, mark: Mark) -> None:
        """Take a mark."""

    def stop(self) -> None:
        """End now."""


class Leader(Asked, Protocol):
    """Leads through a practice, as the hall sees it.

    Attributes
    ----------
    situation
        What is going on.
    tally
        The marks.
    answer
        What there is to say to what was asked for last, in a sentence; empty for nothing.
    """

    situation: Situation
    tally: Tally
    answer: str

    @property
    def place(self) -> str:
        """Where in the practice this is, in words."""

    def begin(self) -> None:
        """Begin."""

    def step(self) -> None:
        """Go on where something has come to its end; to be called often."""

    def ask(self, control: Control) -> None:
        """Do what is asked for, if it means anything now."""

    def hear_drop(self) -> None:
        """Take a drop that was heard for a mark."""

    def pause(self) -> None:
        """Pause, unless that is done already."""

    def keep(self) -> None:
        """Keep how far it has come, when the practice cannot go on."""

    def start_over(self) -> None:
        """Begin again after the deck itself has begun anew."""


def obey(control: Control, asked: Asked) -> None:
    """Do what a control stands for."""
    doing = {
        PAUSE: asked.pause_or_go_on,
        AGAIN: asked.again,
        NEXT: asked.skip,
        BACK: asked.back,
        SLOWER: lambda: asked.nudge(-NUDGE),
        FASTER: lambda: asked.nudge(NUDGE),
        VOICE: asked.switch_voice,
        CLEAN: lambda: asked.mark("clean"),
        DROP: lambda: asked.mark("drop"),
        STOP: asked.stop,
    }
    doing[control]()
