"""Keeps a practice in the log, and counts its marks.

Where the log fails, the practice goes on.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

from throwcount.caller.log.database import LogError
from throwcount.caller.log.history import History
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import Ending, LastHeld, Plan, SetOfBlock, Thrown
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.practice.tempo_rules import Given, Mark, outcome, standing

Written = TypeVar("Written")


@dataclass(frozen=True, slots=True)
class Follows:
    """The file that a session follows."""

    file: str = ""
    """Its whole path; empty for a single pattern."""
    resume: bool = False
    """Whether the session goes on from the last one that followed it."""


class Recorder:
    """Records how a practice goes; this one keeps nothing, and only knows what was kept before.

    `history` is the log of before; None where none can be read. `props` are what is juggled.
    `follows` is the file that the session follows; None without one.

    Attributes
    ----------
    reached
        The sets of the session that this one goes on from, in order.
    """

    def __init__(
        self, history: History | None = None, props: str = "", follows: Follows | None = None
    ) -> None:
        self._history = history
        self._props = props
        self._follows = follows or Follows()
        self._resumes: int | None = None
        self.reached: Sequence[SetOfBlock] = ()
        if self._follows.resume:
            found = self._known(lambda history: history.sets_of_file(self._follows.file))
            self._resumes, self.reached = found or (None, ())

    def last_held(self, pattern: Pattern) -> LastHeld | None:
        """Return the last clean set of a pattern with these props, or any if none are told."""
        return self._known(lambda history: history.last_held(pattern, self._props or None))

    def best_run(self, pattern: Pattern) -> int | None:
        """Return the most catches in a row in a pattern with these props; None without any."""
        return self._known(lambda history: history.best_run(pattern, self._props))

    def _known(self, read: Callable[[History], Written]) -> Written | None:
        """Return something of what was kept before; None where the log cannot be read."""
        if self._history is None:
            return None
        try:
            return read(self._history)
        except LogError as error:
            self._fail(str(error))
            return None

    def _fail(self, sentence: str) -> None:
        """Take note that the log failed."""

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

    def close(self) -> None:
        """Record that the session has ended."""


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
        follows: Follows | None = None,
    ) -> None:
        self._log = log
        self._on_failure = on_failure
        self._failed = False
        self._set: int | None = None
        self._thrown: int | None = None
        super().__init__(log.history, props, follows)
        file, resumes = self._follows.file, self._resumes if self.reached else None
        self._session = self._kept(lambda: log.begin_session(props, device, file, resumes))

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

    def _kept(self, write: Callable[[], Written]) -> Written | None:
        try:
            return write()
        except LogError as error:
            self._fail(str(error))
        return None

    def _fail(self, sentence: str) -> None:
        if not self._failed:
            self._on_failure(sentence)
        self._failed = True


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
