"""Joining: what leads from one part of a routine to the next without a stop, as plain data."""

from dataclasses import dataclass, replace
from itertools import islice
from typing import Final

from throwcount.engine.errors import EngineError
from throwcount.engine.patterns.pattern import (
    HANDS,
    HIGHEST_VALUE,
    Hand,
    Kind,
    Pattern,
    Site,
    Turn,
    beats_per_turn,
    other_kind,
    written_turn,
)
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.states import State, state, states
from throwcount.engine.search.bridges import capacity
from throwcount.engine.search.timing_change import HandBeat, TimingChange

MOST_CHANGED: Final = 4
"""Objects taken up or put down without a stop, at most."""


USUAL_SPACING: Final = 4
"""Beats between two of them, where the tempo is not known."""


class JoiningError(EngineError):
    """Two patterns cannot follow each other in this way."""


@dataclass(frozen=True, slots=True)
class Joining:
    """The throws between two patterns."""

    kind: Kind
    """The kind of the first pattern."""
    turns: tuple[Turn, ...] = ()
    """The throws, up to the change of timing if there is one; none if they are not needed."""
    taken_up: tuple[Site, ...] = ()
    """Turns and places at which an object is taken up."""
    put_down: tuple[Site, ...] = ()
    """Turns and places at which an object is put down."""
    change: TimingChange | None = None
    """How the hands go over to the timing of the second pattern; None if it is the same."""
    rushed: bool = False
    """Whether an object is taken up or put down where its hand has no time for it."""
    calmer: str = ""
    """Throws with which it would have time; empty if they are not needed, or not known."""

    @property
    def beats(self) -> int:
        """Its length in beats."""
        if self.change is not None:
            return self.change.beats
        return len(self.turns) * beats_per_turn(self.kind)

    @property
    def halves(self) -> tuple[Pattern, ...]:
        """The throws of each timing, as far as there are any."""
        rows = [(self.kind, self.turns)]
        if self.change is not None:
            rows.append((other_kind(self.kind), self.change.turns))
        return tuple(
            Pattern(" ".join(written_turn(kind, turn) for turn in turns), kind, turns)
            for kind, turns in rows
            if turns
        )

    @property
    def highest(self) -> int:
        """The highest throw value; 0 without throws."""
        return max((half.highest for half in self.halves), default=0)

    @property
    def text(self) -> str:
        """The throws in notation, with spaces between the turns."""
        return " ".join(half.text for half in self.halves)

    @property
    def kept(self) -> HandBeat | None:
        """The hand that waits, and the beat on which it keeps what it has, if in these throws."""
        change = self.change
        if change is None or change.how == "hurry" or not self.turns:
            return None
        return change.beat - 1, HANDS.index(change.hand)


@dataclass(frozen=True, slots=True)
class Join:
    """What is to be joined."""

    leaving: Pattern
    """The first pattern."""
    left_after: int
    """How many of its turns are thrown before it is left, 0 or more."""
    entering: Pattern
    """The second pattern, which is entered at its beginning."""
    first: Hand = "right"
    """The hand of the next beat, if the hands alternate in the first pattern."""
    spacing: int = USUAL_SPACING
    """Beats between two objects that are taken up or put down, at least: about a second."""
    shifted: Hand | None = None
    """The hand that is to wait or hurry if the timing changes; either if None."""

    @property
    def start(self) -> State:
        """The state in which the first pattern is left."""
        return next(islice(states(self.leaving), self._turn, None))

    @property
    def left(self) -> Pattern:
        """The first pattern, begun where it is left."""
        turns = self.leaving.turns[self._turn :] + self.leaving.turns[: self._turn]
        return replace(self.leaving, turns=turns)

    @property
    def _turn(self) -> int:
        return self.left_after % len(self.leaving.turns)

    @property
    def change(self) -> int:
        """Objects to be taken up (more than 0) or put down (less than 0)."""
        return self.entering.objects - self.leaving.objects

    @property
    def both(self) -> bool:
        """Whether the number of objects and the timing change."""
        return self.change != 0 and self.leaving.kind != self.entering.kind

    @property
    def hands(self) -> HandLimits:
        """The limits of the throws: no higher and no more at once than in the patterns."""
        patterns = (self.leaving, self.entering)
        # High enough to throw every object equally high.
        plain = max(
            -(-each.objects // each.beats_per_turn) * each.beats_per_turn for each in patterns
        )
        highest = max(plain, *(pattern.highest for pattern in patterns))
        ends = (self.start, state(self.entering))
        return HandLimits(self.leaving.kind, min(highest, HIGHEST_VALUE), capacity(patterns, ends))


def check_join(join: Join) -> None:
    """Raise `JoiningError` if no throws can lead from one part to the next."""
    change = abs(join.change)
    if change > MOST_CHANGED:
        raise JoiningError(
            f"{change} objects cannot be taken up or put down without a stop, {MOST_CHANGED} at "
            "most: put a rest between."
        )
