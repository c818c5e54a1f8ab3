"""What can be wrong with what is asked; each error's text is one or two plain sentences."""

from dataclasses import dataclass
from typing import ClassVar, Literal, TypeAlias

Problem: TypeAlias = Literal["malformed", "average", "collision"]


class EngineError(ValueError):
    """Something that was understood and cannot be done."""


class PatternError(EngineError):
    """A pattern that cannot be thrown.

    `message` is what is wrong, in a plain sentence or two. `at` says where, in order: positions in
    the text or beats, as each kind of error says.
    """

    problem: ClassVar[Problem]

    def __init__(self, message: str, at: tuple[int, ...] = ()) -> None:
        super().__init__(message)
        self.message = message
        self.at = at


class MalformedError(PatternError):
    """A text that is no pattern; `at` holds zero-based character positions in it."""

    problem = "malformed"


class AverageError(PatternError):
    """A mean throw value that is not whole; `at` holds the beats of the throws that first meet."""

    problem = "average"


class CollisionError(PatternError):
    """Objects that land where fewer are thrown; `at` holds the zero-based beats of these throws.

    Where they land in a hand that throws nothing, the beat of that empty hand is among them.
    """

    problem = "collision"


class FlightError(EngineError):
    """A height, ceiling or dwell ratio that no throw can have."""


class TempoError(EngineError):
    """A tempo, or a change of tempo, that cannot be kept."""


class RunError(EngineError):
    """Parts, or preparations, that do not make a run."""


class LeadUpError(EngineError):
    """A target that nothing leads up to."""


@dataclass(frozen=True, slots=True)
class RoutineFault:
    """Something wrong in a routine."""

    number: int | None
    """The number of the part, from 1, with repeats written out; None for the whole."""
    sentence: str
    """What is wrong, in a sentence."""


class RoutineError(EngineError):
    """A routine that does not add up; it tells all that is wrong at once."""

    def __init__(self, faults: tuple[RoutineFault, ...]) -> None:
        super().__init__("\n".join(fault.sentence for fault in faults))
        self.faults = faults
