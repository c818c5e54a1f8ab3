"""Which part of a run a beat belongs to."""

from bisect import bisect_right
from dataclasses import dataclass
from itertools import accumulate

from engine.timing.run import Part, Rest, Run


@dataclass(frozen=True, slots=True)
class PartPlace:
    """A part of a run, and where it begins."""

    index: int
    """Its place among the parts of the run, from zero."""
    part: Part | Rest
    """The part itself."""
    first: int
    """Its first beat."""

    @property
    def end(self) -> int | None:
        """The first beat after it; None if it never ends."""
        return None if self.part.beats is None else self.first + self.part.beats


class Places:
    """The parts of a run by their beats."""

    def __init__(self, run: Run) -> None:
        self._parts = run.parts
        self._firsts = list(accumulate((part.beats or 0 for part in run.parts[:-1]), initial=0))

    def at(self, beat: float) -> PartPlace:
        """Return the part of a beat: the first in the count-in, the last in the run-out."""
        return self[max(bisect_right(self._firsts, beat) - 1, 0)]

    def after(self, place: PartPlace) -> PartPlace | None:
        """Return the part after another; None after the last."""
        following = place.index + 1
        return self[following] if following < len(self._parts) else None

    def __getitem__(self, index: int) -> PartPlace:
        return PartPlace(index, self._parts[index], self._firsts[index])
