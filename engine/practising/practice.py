"""How the tempo moves from set to set when it is planned and does not follow the marks.

A rule of tempo is plain data with the `tempo` of the coming set and an `after` that gives the rule
for the set after it; `engine.practising.staircase.Staircase` is the one that follows the marks.
"""

from dataclasses import dataclass, replace
from typing import Protocol, Self

from engine.errors import TempoError
from engine.practising.marks import Mark
from engine.timing.tempo import checked_tempo, held_tempo


class TempoRule(Protocol):
    """Says how fast the coming set is."""

    @property
    def tempo(self) -> float:
        """Beats a minute of the coming set."""

    def after(self, mark: Mark | None) -> Self:
        """Return the rule after a set that counts as `mark`, None if it does not count."""


@dataclass(frozen=True, slots=True)
class Climb:
    """The tempo moves by the same step from set to set, up or down, and perhaps back again.

    Raises
    ------
    TempoError
        If the start cannot be kept, or it is to turn round at its first set.
    """

    start: float
    """The tempo of the first set, in beats a minute."""
    step: float = 0.0
    """Beats a minute from one set to the next; 0 to stay, less than 0 to slow down."""
    there: int | None = None
    """Number of the set, from zero, at which it turns round; None to go on. When it is back at the
    start it turns again."""
    number: int = 0
    """The number of the coming set, from zero."""

    def __post_init__(self) -> None:
        checked_tempo(self.start)
        if self.there is not None and self.there < 1:
            raise TempoError("There and back again takes at least two sets each way.")

    @property
    def tempo(self) -> float:
        """Beats a minute of the coming set, as near to the plan as can be kept."""
        steps = self.number
        if self.there is not None:
            steps = self.there - abs(self.there - self.number % (2 * self.there))
        return held_tempo(self.start + steps * self.step)

    def after(self, mark: Mark | None) -> "Climb":  # noqa: ARG002 - planned, whatever the mark
        """Return the rule for the set after the coming one."""
        return replace(self, number=self.number + 1)
