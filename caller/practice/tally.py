"""The marks of a practice, as its controller counts them."""

from typing import Final

from engine.practising.marks import Given, Mark, outcome, standing

HEARD_DROP: Final = Given("drop", heard=True)


class Tally:
    """Counts the marks that stand, set by set and over all.

    Attributes
    ----------
    taken_back
        Drops that were heard and taken back by the juggler.
    """

    def __init__(self) -> None:
        self._before: list[Given] = []
        self._of_set: list[Given] = []
        self.taken_back = 0

    @property
    def clean(self) -> int:
        """Clean marks."""
        return sum(each.mark == "clean" for each in self._all)

    @property
    def drops(self) -> int:
        """Drops, heard or marked."""
        return sum(each.mark == "drop" for each in self._all)

    @property
    def heard(self) -> int:
        """Drops that were heard."""
        return sum(each.heard for each in self._all)

    def begin_set(self) -> None:
        """Let the marks that come be those of another set."""
        self._before += self._of_set
        self._of_set = []

    def take(self, given: Given) -> None:
        """Take a mark for the set that has begun last."""
        marks = [*self._of_set, given]
        self._of_set = standing(marks)
        self.taken_back += len(marks) - len(self._of_set)

    def outcome(self, unmarked: Mark | None) -> Mark | None:
        """Return how the set counts that has begun last."""
        return outcome([each.mark for each in self._of_set], unmarked)

    @property
    def _all(self) -> list[Given]:
        return [*self._before, *self._of_set]
