"""What a practice is played on, as its conductor sees it."""

from typing import Final, Protocol

from sounds.playing.passage import Command

AGAIN_READY: Final = 3.0
"""Seconds for filling the hands before what was asked for, or goes on."""


class Deck(Protocol):
    """What plays: the clock in seconds since it began, and what it is asked to play."""

    def send(self, command: Command) -> None:
        """Obey a command."""

    def soon(self) -> float:
        """Return when what is sent now can start."""

    def played(self) -> float:
        """Return how far the clock has come."""

    def heard(self) -> float:
        """Return what is heard now."""
