"""Keeps a practice in the log, and counts its marks.

Where the log fails, the practice goes on.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

from throwcount.caller.log.database import LogError
from throwcount.caller.log.log import PracticeLog, SetOfBlock
from throwcount.caller.log.records import Ending, Plan, Thrown
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.practice.tempo_rules import Given, Mark, outcome, standing

Written = TypeVar("Written")


class Recorder:
    """Records how a practice goes; this one keeps nothing.

    Attributes
    ----------
    reached
        The sets of the session that this one goes on from, in order.
    """

    reached: Sequence[SetOfBlock] = ()

    def begin_set(self, plan: Plan) -> None:
        """Record that a set begins."""

    def first_throw(self) -> None:
        """Let marks be for the set that has begun last, as its first throw has come."""

    def mark(self, given: Given, beat: int | None) -> None:
        """Record a mark for the set that was thrown last.

        `beat` is the last beat thrown; None where the mark comes after the set.
        """

    def progress(self, thrown: Thrown) -> None:
        """Record how far the set has come."""

    def end_set(self, thrown: Thrown, status: Ending, unmarked: Mark | None) -> None:
        """Record that the set has ended; without a mark it counts as `unmarked`."""

    def last_tempo(self, _pattern: Pattern) -> float | None:
        """Return the tempo last held clean, in beats a minute; None where none is known."""
        return None

    def best_run(self, _pattern: Pattern) -> int | None:
        """Return the most catches in a row in the pattern; None where none are known."""
        return None

    def close(self) -> None:
        """Record that the session has ended."""


@dataclass(frozen=True, slots=True)
class Follows:
    """The file that a session follows."""

    file: str = ""
    """Its whole path; empty for a single pattern."""
    resume: bool = False
    """Whether the session goes on from the last one that followed it."""


class LogRecorder(Recorder):
    """Keeps everything at once in the practice log, as one session.

    `props` are what is juggled, `device` is the name of the sound output. `on_failure` is called
    with a sentence the first time that something could not be kept. `follows` is the file that the
    session follows; None without one.
    """

    def __init__(
        self,
        log: PracticeLog,
        props: str,
        device: str,
        on_failure: Callable[[str], None],
        follows: "Follows | None" = None,
    ) -> None:
        self._log = log
        self._props = props
        self._on_failure = on_failure
        self._failed = False
        self._set: int | None = None
        self._thrown: int | None = None
        follows = follows or Follows()
        before, reached = None, None
        if follows.resume:
            before, reached = self._kept(lambda: log.sets_of_file(follows.file)) or (None, None)
        self.reached = reached or ()
        resumes = before if self.reached else None
        self._session = self._kept(lambda: log.begin_session(props, device, follows.file, resumes))

    def close(self) -> None:
        """End the session."""
        session = self._session
        if session is not None:
            self._kept(lambda: self._log.end_session(session))

    def begin_set(self, plan: Plan) -> None:
        """Begin a set in the log."""
        session, self._set = self._session, None
        if session is not None:
            self._set = self._kept(lambda: self._log.begin_set(session, plan))

    def first_throw(self) -> None:
        """Keep marks for the set that has begun last from now on."""
        self._thrown = self._set

    def mark(self, given: Given, beat: int | None) -> None:
        """Keep a mark."""
        number = self._thrown
        if number is not None:
            self._kept(lambda: self._log.mark(number, given.mark, beat, given.source))

    def progress(self, thrown: Thrown) -> None:
        """Keep how far the set has come."""
        number = self._set
        if number is not None:
            self._kept(lambda: self._log.progress(number, thrown))

    def end_set(self, thrown: Thrown, status: Ending, unmarked: Mark | None) -> None:
        """End the set in the log; it can be marked later."""
        number = self._set
        if number is not None:
            self._kept(lambda: self._log.end_set(number, thrown, status, unmarked))

    def last_tempo(self, pattern: Pattern) -> float | None:
        """Return the tempo last held clean in this pattern with these props.

        Raises
        ------
        LogError
            If the log cannot be read.
        """
        return self._log.last_tempo(pattern, self._props or None)

    def best_run(self, pattern: Pattern) -> int | None:
        """Return the most catches in a row in the pattern with these props; None without any."""
        return self._kept(lambda: self._log.best_run(pattern, self._props))

    def _kept(self, write: Callable[[], Written]) -> Written | None:
        try:
            return write()
        except LogError as error:
            if not self._failed:
                self._on_failure(str(error))
            self._failed = True
        return None


HEARD_DROP: Final = Given("drop", "microphone")


class Tally:
    """Counts the marks of a practice, without those that were taken back.

    Attributes
    ----------
    place
        The set that marks are for, in words; empty before anything is thrown.
    taken_back
        The number of drops that were taken back by the juggler.
    """

    def __init__(self) -> None:
        self.place = ""
        self._before: list[Given] = []
        self._of_set: list[Given] = []
        self.taken_back = 0

    @property
    def clean(self) -> int:
        """The number of clean marks."""
        return sum(each.mark == "clean" for each in self._all)

    @property
    def drops(self) -> int:
        """The number of drops, heard or marked."""
        return sum(each.mark == "drop" for each in self._all)

    @property
    def heard(self) -> int:
        """The number of drops that were heard."""
        return sum(each.heard for each in self._all)

    def begin_set(self, place: str) -> None:
        """Count the marks from now on to another set, at a place that is not empty."""
        self.place = place
        self._before += self._of_set
        self._of_set = []

    def take(self, given: Given) -> None:
        """Take a mark for the set that was thrown last."""
        marks = [*self._of_set, given]
        self._of_set = standing(marks)
        self.taken_back += len(marks) - len(self._of_set)

    def outcome(self, unmarked: Mark | None) -> Mark | None:
        """Return how the set counts that was thrown last; without a mark, `unmarked`."""
        return outcome([each.mark for each in self._of_set], unmarked)

    @property
    def _all(self) -> list[Given]:
        return [*self._before, *self._of_set]
