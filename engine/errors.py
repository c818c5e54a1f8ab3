"""The errors of the engine; the text of each is one or two plain sentences."""

from dataclasses import dataclass
from typing import ClassVar, Literal, TypeAlias

Problem: TypeAlias = Literal["malformed", "average", "collision"]


class EngineError(ValueError):
    """A request that was understood and cannot be met."""


class PatternError(EngineError):
    """A pattern that cannot be thrown.

    `message` says what is wrong, in a plain sentence or two. `at` says where, in order: character
    positions or beats, as each subclass states.
    """

    problem: ClassVar[Problem]

    def __init__(self, message: str, at: tuple[int, ...] = ()) -> None:
        super().__init__(message)
        self.message = message
        self.at = at


class MalformedError(PatternError):
    """A text that is not a pattern; `at` holds zero-based character positions in it."""

    problem = "malformed"


class AverageError(PatternError):
    """A mean throw value that is not whole; `at` holds the beats of the first throws to collide."""

    problem = "average"


class CollisionError(PatternError):
    """More objects land than are thrown on; `at` holds the zero-based beats of these throws.

    If the hand they land in throws nothing, its beat is among them.
    """

    problem = "collision"


class FlightError(EngineError):
    """A height, ceiling or dwell ratio that no throw can have."""


class TempoError(EngineError):
    """A tempo, or a change of tempo, out of range."""


class RunError(EngineError):
    """Parts or preparations that do not make a run."""


class MannerError(EngineError):
    """A text that names no throw of a pattern."""


class LeadUpError(EngineError):
    """A target for which no lead-up is found."""


@dataclass(frozen=True, slots=True)
class RoutineFault:
    """One fault in a routine."""

    number: int | None
    """The part's number, from 1, with repeats written out; None for the whole routine."""
    sentence: str
    """The fault, in a sentence."""


class RoutineError(EngineError):
    """A routine has faults; the error holds all of them."""

    def __init__(self, faults: tuple[RoutineFault, ...]) -> None:
        super().__init__("\n".join(fault.sentence for fault in faults))
        self.faults = faults
